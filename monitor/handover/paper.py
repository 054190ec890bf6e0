"""The hand-over as PDF: tagged for screen readers (PDF/UA-1), fonts embedded, nothing fetched."""

from __future__ import annotations

import dataclasses
import json
import re
from importlib.resources import files
from typing import Any, cast

import typst

from monitor.fonts import FONTS
from monitor.handover.sheet import HandoverSheet, SheetPart
from shared.words import Words

_LONG_RUN = re.compile(r"[^\s\u200b]{16,}")


def hand_over_pdf(shown: HandoverSheet, plant: str, words: Words, timestamp: int) -> bytes:
    """Return the PDF; the same sheet and timestamp [s since 1970 UTC] give the same bytes."""
    caution = words.say("Reads files after the event. It is no safety device and controls no press.")
    data = {
        "title": shown.title,
        "subtitle": shown.subtitle,
        "facts": shown.facts,
        "plant": plant,
        "language": words.language,
        "caution": caution,
        "parts": [_part(part) for part in shown.parts],
    }
    sources = {
        "sheet.json": json.dumps(data).encode(),
        "main": files("monitor.handover").joinpath("hand-over.typ").read_bytes(),
    }
    made: bytes = typst.compile(
        cast(Any, sources),
        format="pdf",
        font_paths=[FONTS],
        ignore_system_fonts=True,
        pdf_standards="ua-1",
        timestamp=timestamp,
    )
    return made


def _part(part: SheetPart) -> dict[str, Any]:
    rows = [[_breakable(cell) for cell in row] for row in part.rows]
    return {**dataclasses.asdict(part), "rows": rows, "loud": sorted(part.loud)}


def _breakable(text: str) -> str:
    """Let a long name without a space be broken, so that it stays in its column."""
    return _LONG_RUN.sub(lambda run: "\u200b".join(re.findall(r".{1,6}", run[0])), text)
