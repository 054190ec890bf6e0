"""The coils page below its pickers: what needs somebody, the whole strip, each coil as a strip, and yields."""

from __future__ import annotations

import json
from typing import Any

import pandas as pd
from dash import html

from dashboards.ledger.records import records
from dashboards.pages.coils import COILS_ROWS, COILS_YIELDS
from dashboards.pages.coils.model import CoilsView, hold_on
from dashboards.parts.coil_words import PARTS, Row, difference_words, heavy, mass, parts_of, where
from dashboards.parts.components import attributes, lack, number
from dashboards.parts.download import download_links
from dashboards.parts.panel import graph, panel
from dashboards.parts.tables import table
from dashboards.request.formats import UNKNOWN, between, count, decimal, known, length, share, text, weight_unit
from dashboards.request.locale import locale, say, say_n
from dashboards.request.url import View
from monitor.charts.yields import yields_chart
from monitor.figures.material.coil_ledger import UNEXPLAINED, UNWEIGHED

MOST_COILS = 2_000
"""Coils sent to the browser, what needs somebody first; more are counted, and the command gives them all."""

#: Part of the whole below which a stretch of strip has no room for words.
_ROOM = 0.07

#: A part that is there is drawn at least so wide [per cent], or nobody would see it.
_THINNEST = 0.4


def coils_html(shown: CoilsView, dark: bool) -> list[Any]:
    """The page below its pickers, or the sentence that says what is lacking."""
    head = [html.Header(html.H1(shown.title), className="head")] if shown.title else []
    if shown.lack:
        return [*head, lack(shown.lack)]
    return [
        *head,
        *_urgent(shown),
        html.Dl([number(total) for total in shown.totals], className="numbers totals"),
        _whole(shown),
        _coils(shown),
        *_yields(shown, dark),
    ]


def _urgent(shown: CoilsView) -> list[Any]:
    """Holds in force and changes that lack, loud and above everything else."""
    lists = []
    if shown.hold_places:
        items = [html.Li([html.B(say("HELD")), html.Span(words)]) for words in shown.hold_places]
        lists.append(html.Ul(items, className="holds", **attributes(aria_label=say("Strip under hold"))))
    if shown.missing:
        items = [html.Li([html.B(say("NOT NOTED")), html.Span(words)]) for words in shown.missing]
        lists.append(html.Ul(items, className="holds asks", **attributes(aria_label=say("Coil changes not noted"))))
    return lists


def _whole(shown: CoilsView) -> Any:
    """All strip of the coils shown as one strip, which is also the legend of those below."""
    total = sum(max(0.0, kg) for kg in shown.whole.values()) or 1.0
    drawn = [_piece(part, kg / total, True) for part, kg in shown.whole.items() if kg > 0]
    legend = [
        html.Li(
            [
                html.I(className=f"swatch seg-{part}", **attributes(aria_hidden="true")),
                html.Span(say(name)),
                html.Small(heavy(shown.whole[part])),
            ]
        )
        for part, name in PARTS.items()
    ]
    strip = html.Div(
        drawn, className="coil-strip whole-strip", role="img", **attributes(aria_label=_told(shown, total))
    )
    chart = html.Div([strip, html.Ul(legend, className="strip-legend")])
    return panel(
        say("What became of the strip"), chart, _parts_table(shown, total), download_links("strip_parts", shown.view)
    )


def _told(shown: CoilsView, total: float) -> str:
    return ", ".join(f"{say(PARTS[part])} {share(kg / total)}" for part, kg in shown.whole.items())


def _parts_table(shown: CoilsView, total: float) -> Any:
    rows = pd.DataFrame(
        {
            say("Where it went"): [say(name) for name in PARTS.values()],
            weight_unit(): [decimal(mass(shown.whole[part])) for part in PARTS],
            say("Share"): [share(shown.whole[part] / total) for part in PARTS],
        }
    )
    return table(rows, (say("Where it went"),), "", "strokeledger figures coil_ledger --ledger LEDGER")


def _piece(part: str, width: float, worded: bool) -> Any:
    words = [html.Span(say(PARTS[part])), html.Small(share(width, 1))] if worded and width > _ROOM else None
    return html.Div(words, className=f"seg seg-{part}", style={"flexGrow": max(100 * width, _THINNEST)})


def _coils(shown: CoilsView) -> Any:
    columns = [
        (say("Coil"), "word"), (say("Strip"), "strip"), (_of(say("Received")), "figure"), (_of(say("Used")), "figure"),
        (_of(say("Left")), "figure"), (say("Yield"), "figure"), (_of(say("Difference")), "figure"),
        (say("Where it is"), "word"),
    ]  # fmt: skip
    rows = [_cells(row, shown) for row in records(shown.rows.head(MOST_COILS))]
    caption = say("Each strip is one coil as received, cut up by what its kilograms became. A heading sorts.")
    if len(shown.rows) > MOST_COILS:
        command = "strokeledger figures coil_ledger --ledger LEDGER"
        cut = say(
            "The first {most} of {all}; all of them: {command}", most=MOST_COILS, all=len(shown.rows), command=command
        )
        caption = f"{caption} {cut}"
    more = say("Show all {n}", n=count(len(rows)))
    parts = {part: say(name) for part, name in PARTS.items()}
    data = {"caption": caption, "columns": columns, "rows": rows, "parts": parts, "more": more}
    built = html.Div(
        className="coil-rows", id=COILS_ROWS, **attributes(data_coils=json.dumps(data, ensure_ascii=False))
    )
    title = html.H2(say_n(len(shown.rows), "{n} coil, as strip", "{n} coils, as strip"))
    head = html.Div([title, download_links("coil_ledger", shown.view)], className="panel-head")
    return html.Section([head, built], className="panel")


def _of(heading: str) -> str:
    """A heading with the unit of weight behind it."""
    return f"{heading}, {weight_unit()}"


def _cells(row: Row, shown: CoilsView) -> list[dict[str, Any]]:
    """One row as the browser builds it: text, what it sorts by, and what stands below it."""
    coil, odd = text(row["coil_id"]), row["finding"] == UNEXPLAINED
    trace = f"/trace{View(scope='coil', value=coil).search}"
    about = " · ".join(text(row[name]) for name in ("lot", "heat", "supplier") if text(row[name]))
    unweighed = row["finding"] == UNWEIGHED
    left = f"{'≈' if unweighed and row['mountings'] else ''}{decimal(mass(row['left_kg']))}"
    remarks = " ".join(filter(None, (_overrun(row), difference_words(row))))
    return [
        {"t": coil, "href": trace, "below": about, "tag": say("HELD") if hold_on(row, shown.held) else "",
         "title": hold_on(row, shown.held)},
        {"segs": [[part, round(kg, 3), heavy(kg)] for part, kg in parts_of(row)], "s": _value(row["used_kg"])},
        {"t": decimal(mass(row["received_kg"])), "s": _value(row["received_kg"])},
        {"t": decimal(mass(row["used_kg"])), "s": _value(row["used_kg"]), "below": length(row["used_m"])},
        {"t": left, "s": _value(row["left_kg"]), "below": length(row["left_m"])},
        {"t": share(row["coil_yield"]), "s": _value(row["coil_yield"]), "below": _pieces(row)},
        {"t": UNKNOWN if unweighed else _signed(row["difference_kg"]), "loud": bool(odd),
         "s": 0 if unweighed else abs(float(row["difference_kg"])), "below": remarks, **_doubted(coil, shown)},
        {"t": where(row), "s": where(row), "below": shown.ends.get(coil) or _when(row, shown.begun.get(coil, "")),
         "more": _bench(row)},
    ]  # fmt: skip


def _doubted(coil: str, shown: CoilsView) -> dict[str, str]:
    """The mark beside the account of a coil about which rows cannot all be true."""
    found = shown.contradicted.get(coil)
    return {"mark": f"≠ {found.words}", "to": found.href, "why": found.kinds} if found else {}


def _signed(kg: object) -> str:
    """A difference with its sign; what rounds to nothing has none."""
    amount = mass(kg)
    return UNKNOWN if amount is None else decimal(round(amount, 1) + 0.0)


def _value(number_: object) -> float:
    return float(number_) if known(number_) else -1.0  # type: ignore[arg-type]


def _pieces(row: Row) -> str:
    if not row["mountings"]:
        return ""
    return say_n(int(row["good"]), "{n} good", "{n} good") if known(row["good"]) else say("good not known")


def _overrun(row: Row) -> str:
    if not known(row["overrun_m"]) or not row["overrun_m"]:
        return ""
    told = length(row["overrun_m"])
    return say("{length} over its length: a change was not noted, or what was entered is wrong.", length=told)


def _when(row: Row, begun: str) -> str:
    """When it was on a press, and how often."""
    if not row["mountings"]:
        return say("never mounted")
    often = int(row["mountings"])
    times = say("mounted once") if often == 1 else say("mounted {n} times", n=count(often))
    return ", ".join(filter(None, (*row["press_id"], times, begun)))


def _bench(row: Row) -> list[list[str]]:
    """Links to the bench of the dies it ran in."""
    return [[die, f"/bench{View(die=die).search}"] for die in row["die_id"]]


# Yields


def _yields(shown: CoilsView, dark: bool) -> list[Any]:
    note = say(
        "A die's skeleton is designed in, so lots and suppliers are compared by what became good of what their dies can"
        " give. The line is the 95 % interval over mountings; one mounting has none."
    )
    titles = {
        "supplier": say("Yield by supplier"),
        "die_id": say("Yield by die"),
        "lot": say("Yield by lot"),
    }
    return [_yield(title, by, shown, dark, note) for by, title in titles.items()]


def _yield(title: str, by: str, shown: CoilsView, dark: bool, note: str) -> Any:
    rows = shown.yields[by]
    rows = rows[rows[by] != ""].rename(columns={by: "name"})
    figure = yields_chart(rows, dark, locale().words)
    name = {"supplier": say("Supplier"), "die_id": say("Die"), "lot": say("Lot")}[by]
    words = pd.DataFrame(
        {
            name: rows["name"],
            say("Coils"): [count(n) for n in rows["coils"]],
            say("Mountings"): [count(n) for n in rows["mountings"]],
            _of(say("Used")): [decimal(mass(kg)) for kg in rows["used_kg"]],
            say("Of strip"): [share(n) for n in rows["coil_yield"]],
            say("Of what the die can give"): [share(n, 2) for n in rows["of_possible"]],
            say("95 % interval"): [
                between(low, high) or UNKNOWN
                for low, high in zip(rows["of_possible_low"], rows["of_possible_high"], strict=True)
            ],
            say("Not weighed"): [count(n) for n in rows["unweighed"]],
        }
    )
    listed = table(words, (name,), "", "strokeledger figures coils --ledger LEDGER")
    chart = f"{COILS_YIELDS}-{by.removesuffix('_id')}"
    takes = download_links(f"yield_by_{by.removesuffix('_id')}", shown.view, chart)
    drawn, told = graph(chart, figure, f"{title}. {_extremes(rows)}"), note if by == "supplier" else ""
    return html.Div(panel(title, drawn, listed, takes, told), className="wide-table")


def _extremes(rows: pd.DataFrame) -> str:
    known = rows[rows["of_possible"].notna()].sort_values("of_possible")
    if known.empty:
        return say("No strip was used and weighed.")
    return say(
        "From {low} ({worst}) to {high} ({best}) of what the die can give.",
        low=share(known["of_possible"].iloc[0], 2),
        worst=known["name"].iloc[0],
        high=share(known["of_possible"].iloc[-1], 2),
        best=known["name"].iloc[-1],
    )
