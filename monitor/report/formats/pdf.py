"""A paper as PDF: tagged for screen readers (PDF/UA-1), fonts embedded, no network and no fonts of the machine."""

from __future__ import annotations

import dataclasses
import json
import re
from importlib.resources import files
from typing import Any, cast

import typst

from monitor.fonts import FONTS
from monitor.report.blocks import Block, Grid, Heading, Paper, Picture, Pictures, Text

_LONG_RUN = re.compile(r"[^\s\u200b]{18,}")
_BREAK = "\u200b"
#: Largest logo [bytes]; it goes into every paper.
LARGEST_LOGO = 1_000_000
#: What the typesetter calls a kind of picture, where it is not the end of the file's name.
_FORMATS = {"jpeg": "jpg"}


def pdf(paper: Paper, timestamp: int) -> bytes:
    """Return the PDF; the same paper and timestamp [s since 1970 UTC] give the same bytes."""
    pictures = [item for block in paper.blocks if isinstance(block, Pictures) for item in block.items]
    names = {id(item): f"picture-{number}.svg" for number, item in enumerate(pictures)}
    sources = {names[id(item)]: item.svg.encode() for item in pictures}
    sources["paper.json"] = json.dumps(_data(paper, names)).encode()
    sources["main"] = files("monitor.report").joinpath("house.typ").read_bytes()
    return _typeset(sources, pdf_standards="ua-1", timestamp=timestamp)


def logo_fault(logo: bytes, kind: str) -> str:
    """Return why a logo cannot be printed as a picture of the kind png, jpg, jpeg or svg; "" where it can be."""
    if len(logo) > LARGEST_LOGO:
        return f"{len(logo) / 1e6:.1f} MB"
    main = '#let d = json("logo.json")\n#image(bytes(d.logo), format: d.kind, height: 14mm)'
    try:
        _typeset({"logo.json": json.dumps(_logo(logo, kind)).encode(), "main": main.encode()})
    except typst.TypstError as error:
        return error.message
    return ""


def _typeset(sources: dict[str, bytes], **how: Any) -> bytes:
    made: bytes = typst.compile(cast(Any, sources), format="pdf", font_paths=[FONTS], ignore_system_fonts=True, **how)
    return made


def _logo(logo: bytes, kind: str) -> dict[str, Any]:
    # A file handed over in memory has to be text, so the picture goes as a list of its bytes.
    return {"logo": list(logo), "kind": _FORMATS.get(kind, kind)}


def _data(paper: Paper, names: dict[int, str]) -> dict[str, Any]:
    head = {field.name: getattr(paper, field.name) for field in dataclasses.fields(paper)}
    shown = {f"{name}_shown": breakable(getattr(paper, name)) for name in ("title", "subtitle", "sender")}
    logo = _logo(paper.logo, paper.logo_kind)
    return {**head, **shown, **logo, "blocks": [_block(block, names) for block in paper.blocks]}


def _block(block: Block, names: dict[int, str]) -> dict[str, Any]:
    kind = type(block).__name__.lower()
    if isinstance(block, Pictures):
        return {"kind": kind, "across": block.across, "items": [_picture(item, names) for item in block.items]}
    data = dataclasses.asdict(block)
    if isinstance(block, Heading):
        data["text"] = breakable(block.text)
    elif isinstance(block, Text):
        data["lines"] = [breakable(line) for line in block.lines]
    elif isinstance(block, Grid):
        data["rows"] = [[breakable(cell) for cell in row] for row in block.rows]
    return {"kind": kind, **data}


def _picture(item: Picture, names: dict[int, str]) -> dict[str, str]:
    return {"file": names[id(item)], "alt": item.alt, "caption": breakable(item.caption)}


def breakable(text: str) -> str:
    """Return text in which long runs without a space may be broken: a name of 80 characters stays in its column."""
    return _LONG_RUN.sub(lambda run: _BREAK.join(re.findall(r".{1,6}", run[0])), text)
