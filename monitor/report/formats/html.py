"""A paper as one HTML file: works without a network, holds no script, and every text is escaped.

Mail gateways hold back pages with scripts, so what can be clicked is plain HTML: contents, and long tables that unfold.
"""

from __future__ import annotations

import base64
from html import escape
from itertools import count

from monitor.report.blocks import Block, Grid, Heading, Paper, Pictures, Sign, Text

#: A table of more rows is folded up.
FOLDED = 40

_TYPES = {"svg": "image/svg+xml", "png": "image/png", "jpg": "image/jpeg", "jpeg": "image/jpeg"}

_STYLE = """
body{font:15px/1.5 "Segoe UI",Roboto,"Liberation Sans",Arial,system-ui,sans-serif;color:#14191d;background:#fff;
max-width:62rem;margin:0 auto;padding:1.5rem}
header{border-bottom:4px solid HOUSE;margin-bottom:1rem;padding-bottom:.6rem;overflow:hidden}
header img{float:right;max-height:3.5rem;max-width:14rem}
h1{font-size:1.8rem;margin:.4rem 0 0}h2{color:HOUSE;margin:2rem 0 .5rem;font-size:1.3rem}
h3{margin:1.2rem 0 .3rem;font-size:1rem}
.soft,small,figcaption,footer{color:#515a60;font-size:.85rem}
.wide{overflow-x:auto}table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums;font-size:.9rem}
th,td{padding:.25rem .5rem;text-align:left;vertical-align:top;border-bottom:1px solid #e8e5dc;overflow-wrap:anywhere}
td:not(.n){min-width:5.5rem}td.n,th.n{text-align:right;white-space:nowrap;overflow-wrap:normal}
thead th{border-bottom:2px solid HOUSE;position:sticky;top:0;background:#fff;overflow-wrap:normal}
tr.sum td{font-weight:700}figure{margin:0}.pictures{display:grid;gap:1rem;grid-template-columns:minmax(0,1fr)}
.two{grid-template-columns:repeat(2,minmax(0,1fr))}
nav ol{display:flex;flex-wrap:wrap;gap:.2rem 1.4rem;margin:0;padding:0;list-style:none}nav a{color:HOUSE}
:target{background:#fff3c4}summary{cursor:pointer;padding:.4rem 0;color:HOUSE;font-weight:600}
svg{width:100%;height:auto}.sign td{height:2.2rem;min-width:10rem}
@media(max-width:40rem){.two{grid-template-columns:minmax(0,1fr)}}
@media print{nav{display:none}body{max-width:none;padding:0}
thead{display:table-header-group}tr,figure{break-inside:avoid}
h2,h3{break-after:avoid}.wide{overflow:visible}}
"""


def html(paper: Paper) -> str:
    """Return the page."""
    policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
    title = escape(f"{paper.title}, {paper.subtitle}, {paper.week}")
    return (
        f'<!doctype html>\n<html lang="{paper.language}"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1"><meta name="robots" content="noindex">'
        f"<title>{title}</title><style>{_STYLE.replace('HOUSE', escape(paper.colour))}</style></head>\n<body>\n"
        f"{_header(paper)}\n{_contents(paper)}\n<main>\n{_body(paper)}\n</main>\n"
        f"<footer><p>{escape(paper.sender)} · {escape(paper.version)}</p></footer>\n</body></html>\n"
    )


def _header(paper: Paper) -> str:
    logo = ""
    if paper.logo:
        source = f"data:{_TYPES[paper.logo_kind]};base64,{base64.b64encode(paper.logo).decode()}"
        logo = f'<img src="{source}" alt="{escape(paper.logo_alt)}">'
    sender = " · ".join(escape(line) for line in (paper.sender, *paper.address))
    return (
        f'<header>{logo}<div class="soft">{sender}</div><h1>{escape(paper.title)}</h1>'
        f"<div>{escape(paper.subtitle)} · <strong>{escape(paper.week)}</strong></div>"
        f'<div class="soft">{escape(paper.range)}</div></header>'
    )


def _contents(paper: Paper) -> str:
    sections = [block for block in paper.blocks if isinstance(block, Heading) and block.level == 1]
    items = "".join(f'<li><a href="#s{n}">{escape(block.text)}</a></li>' for n, block in enumerate(sections, 1))
    return f'<nav aria-label="{escape(paper.contents)}"><ol>{items}</ol></nav>'


def _body(paper: Paper) -> str:
    numbers = count(1)
    blocks = []
    for block in paper.blocks:
        section = isinstance(block, Heading) and block.level == 1
        blocks.append(_block(block, paper, f' id="s{next(numbers)}"' if section else ""))
    return "\n".join(blocks)


def _block(block: Block, paper: Paper, named: str) -> str:
    if isinstance(block, Heading):
        return f"<h{block.level + 1}{named}>{escape(block.text)}</h{block.level + 1}>"
    if isinstance(block, Text):
        return _text(block)
    if isinstance(block, Grid):
        table = _grid(block)
        if len(block.rows) <= FOLDED:
            return table
        return f"<details><summary>{escape(paper.rows.format(n=len(block.rows)))}</summary>{table}</details>"
    if isinstance(block, Sign):
        return _sign(block)
    return _pictures(block)


def _text(block: Text) -> str:
    if block.listed:
        return "<ol>" + "".join(f"<li>{escape(line)}</li>" for line in block.lines) + "</ol>"
    kind = ' class="soft"' if block.small else ""
    return "".join(f"<p{kind}>{escape(line)}</p>" for line in block.lines)


def _grid(block: Grid) -> str:
    kinds = [' class="n"' if column.number else "" for column in block.columns]
    head = "".join(
        f'<th scope="col"{kind}>{escape(c.label)}</th>' for kind, c in zip(kinds, block.columns, strict=True)
    )
    rows = []
    for number, row in enumerate(block.rows, 1):
        cells = "".join(f"<td{kind}>{escape(cell)}</td>" for kind, cell in zip(kinds, row, strict=True))
        rows.append(
            f'<tr class="sum">{cells}</tr>' if block.total and number == len(block.rows) else f"<tr>{cells}</tr>"
        )
    return f'<div class="wide"><table><thead><tr>{head}</tr></thead><tbody>{"".join(rows)}</tbody></table></div>'


def _pictures(block: Pictures) -> str:
    items = []
    for item in block.items:
        named = item.svg.replace("<svg ", f'<svg role="img" aria-label="{escape(item.alt)}" ', 1)
        items.append(f"<figure>{named}<figcaption>{escape(item.caption)}</figcaption></figure>")
    return f'<div class="pictures{" two" if block.across > 1 else ""}">{"".join(items)}</div>'


def _sign(block: Sign) -> str:
    head = "".join(f'<th scope="col">{escape(name)}</th>' for name in block.columns)
    empty = "<td></td>" * (len(block.columns) - 1)
    rows = "".join(f'<tr><th scope="row">{escape(row)}</th>{empty}</tr>' for row in block.rows)
    table = f'<table class="sign"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'
    return f'<div class="wide">{table}</div>'
