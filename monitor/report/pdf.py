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


def pdf(paper: Paper, timestamp: int) -> bytes:
    """Return the PDF; the same paper and timestamp [s since 1970 UTC] give the same bytes."""
    pictures = [item for block in paper.blocks if isinstance(block, Pictures) for item in block.items]
    names = {id(item): f"picture-{number}.svg" for number, item in enumerate(pictures)}
    sources = {names[id(item)]: item.svg.encode() for item in pictures}
    logo = f"logo.{paper.logo_kind}" if paper.logo else ""
    if logo:
        sources[logo] = paper.logo
    sources["paper.json"] = json.dumps(_data(paper, logo, names)).encode()
    sources["main"] = files("monitor.report").joinpath("house.typ").read_bytes()
    made: bytes = typst.compile(
        cast(Any, sources),
        format="pdf",
        font_paths=[FONTS],
        ignore_system_fonts=True,
        pdf_standards="ua-1",
        timestamp=timestamp,
    )
    return made


def _data(paper: Paper, logo: str, names: dict[int, str]) -> dict[str, Any]:
    head = {field.name: getattr(paper, field.name) for field in dataclasses.fields(paper)}
    shown = {"title_shown": breakable(paper.title), "subtitle_shown": breakable(paper.subtitle)}
    return {**head, **shown, "logo": logo, "blocks": [_block(block, names) for block in paper.blocks]}


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
