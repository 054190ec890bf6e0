"""Hold tags on paper: a PDF with a tag for every container and coil of a hold."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, cast

import typst

from monitor.fonts import FONTS
from shared.words import ENGLISH, Words

# What the tags say comes as data, never as markup, so that no text can become part of the page.
_TEMPLATE = """
#let tags = json(bytes(sys.inputs.tags))
#set page(width: 148mm, height: 105mm, margin: 8mm)
#set text(font: "DejaVu Sans", size: 11pt)
#for (nth, tag) in tags.enumerate() {
  if nth > 0 { pagebreak() }
  block(width: 100%, height: 100%, stroke: 3pt + rgb("#b3261e"), inset: 5mm)[
    #text(size: 30pt, weight: "bold", fill: rgb("#b3261e"))[#sys.inputs.hold] #h(1fr) #text(size: 14pt)[#tag.hold_id]
    #v(1mm)
    #text(size: 22pt, weight: "bold")[#tag.name]
    #v(1mm)
    #grid(columns: (32mm, 1fr), row-gutter: 2.5mm,
      ..for (label, value) in tag.lines { (text(fill: luma(35%))[#label], [#value]) })
    #v(1fr)
    #text(size: 9pt)[#sys.inputs.caution]
  ]
}
"""


@dataclass(frozen=True)
class Tag:
    """One tag: the hold, what it is tied to, and lines of a label and a value."""

    hold_id: str
    name: str
    lines: tuple[tuple[str, str], ...]


def tags_pdf(tags: Sequence[Tag], words: Words = ENGLISH) -> bytes:
    """Return a PDF with a page of A6 for each tag, at least one, headed and closed in a language."""
    said = {"hold": words.say("HOLD"), "caution": words.say("Do not use, move or ship until the hold is lifted.")}
    pdf: bytes = typst.compile(
        cast(Any, _TEMPLATE.encode()),
        font_paths=[FONTS],
        ignore_system_fonts=True,
        sys_inputs={"tags": json.dumps([asdict(tag) for tag in tags]), **said},
    )
    return pdf
