"""The strip of a die drawn station by station: the piece growing along it, and which stations to open first."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field
from html import escape
from typing import Any, Final

import pandas as pd

from monitor.charts.style import Palette, palette, shorten
from shared.words import ENGLISH, Words

CELL: Final = 116
_LEFT, _TOP, _BAND = 14, 62, 118
_FONT = '"Segoe UI", Roboto, "Helvetica Neue", "Liberation Sans", "DejaVu Sans", Arial, sans-serif'

_HOLES = frozenset({"pierce", "extrude", "tap"})
_SIDES = frozenset({"notch", "trim", "shave"})
_SHAPED = frozenset({"form", "bend", "draw", "coin", "emboss"})
_PARTED = frozenset({"blank", "cutoff"})


def strip_svg(stations: pd.DataFrame, dark: bool = False, words: Words = ENGLISH) -> str:
    """Return the drawing as SVG; no stations give an empty strip.

    `stations`, in order: station, operation (a tuple), look (1 = open first, 0 = not asked),
    since [strokes, NaN = not known], due_share [0 to 1 of the interval, NaN = not known], below (text).
    """
    colours = palette(dark)
    wide = 2 * _LEFT + CELL * max(len(stations), 1)
    drawing = _Drawing(colours, words)
    for place, row in enumerate(stations.to_dict("records")):
        drawing.station(place, row)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {_TOP + _BAND + 66}" width="{wide}" '
        f'height="{_TOP + _BAND + 66}" font-family="{escape(_FONT, quote=True)}">{"".join(drawing.parts)}</svg>'
    )


@dataclass
class _Drawing:
    """A strip in the making; `made` are the operations the piece has been through."""

    colours: Palette
    words: Words
    parts: list[str] = field(default_factory=list)
    made: set[str] = field(default_factory=set)
    free: bool = False

    def station(self, place: int, row: Mapping[Hashable, Any]) -> None:
        """Draw one station: its name, its stretch of strip with the piece as it leaves it, and its edge."""
        left = _LEFT + CELL * place
        own = set(row["operation"])
        self._head(left, row)
        self.made |= own
        self._band(left)
        self._piece(left, own)
        if row["look"]:
            self._flag(left, int(row["look"]))
        self._edge(left, row)
        self.free = self.free or bool(own & _PARTED)

    def _head(self, left: float, row: Mapping[Hashable, Any]) -> None:
        names = [self.words.say(name) for name in row["operation"]]
        self._text(left + CELL / 2, 22, str(row["station"]), 17, self.colours.ink, bold=True)
        self._text(left + CELL / 2, 42, shorten(" + ".join(names), 17), 13, self.colours.soft)

    def _band(self, left: float) -> None:
        """The strip with its pilot holes; beyond the station that parts the piece only its outline is left."""
        if self.free:
            self._box(left, _TOP, CELL, _BAND, fill="none", line=self.colours.rule, dash="4 4")
            return
        self._box(left, _TOP, CELL, _BAND, fill=self.colours.steel, line="none")
        for y in (_TOP + 11, _TOP + _BAND - 11):
            self._circle(left + CELL / 2, y, 5, self.colours.surface, self.colours.edge)

    def _piece(self, left: float, own: set[str]) -> None:
        x, y, wide, high = left + 17, _TOP + 26, CELL - 34, _BAND - 52
        colours = self.colours
        cut = bool(self.made & (_SIDES | _PARTED))
        if cut and not self.free:
            self._box(left + 4, y, 10, high, fill=colours.surface, line=colours.edge)
            self._box(left + CELL - 14, y, 10, high, fill=colours.surface, line=colours.edge)
        self._box(
            x,
            y,
            wide,
            high,
            fill=colours.surface if self.free or own & _PARTED else "none",
            line=colours.ink,
            dash="" if cut else "3 4",
        )
        if self.made & _HOLES:
            for middle in (0.3, 0.7):
                self._circle(x + wide * middle, y + high * 0.32, 7, colours.paper, colours.ink)
        if self.made & _SHAPED:
            self._bend(x, y + high * 0.62, wide)
        if "pilot" in own and not self.free:
            for at in (_TOP + 11, _TOP + _BAND - 11):
                self._circle(left + CELL / 2, at, 5, colours.ink, colours.ink)
        if own & _PARTED:
            self._line(left + CELL - 2, _TOP, x1=left + CELL - 2, y1=_TOP + _BAND, colour=colours.ink, wide=3)

    def _bend(self, x: float, y: float, wide: float) -> None:
        """A flange below the bend line, hatched."""
        self._line(x, y, x1=x + wide, y1=y, colour=self.colours.ink, wide=2)
        for step in range(0, int(wide), 9):
            self._line(x + step, y + 16, x1=x + min(step + 10, wide), y1=y + 2, colour=self.colours.edge, wide=1.2)

    def _flag(self, left: float, rank: int) -> None:
        """A frame in the loud colour with the place in the order of opening."""
        colours = self.colours
        self._box(left + 2, _TOP - 4, CELL - 4, _BAND + 8, fill="none", line=colours.reject, wide=4)
        self._box(left + CELL - 46, _TOP - 14, 44, 22, fill=colours.reject, line=colours.reject)
        self._text(left + CELL - 24, _TOP + 2, self.words.say("no. {rank}", rank=rank), 13, colours.surface, bold=True)

    def _edge(self, left: float, row: Mapping[Hashable, Any]) -> None:
        """A gauge of the strokes since sharpening against the interval, and what is said of it."""
        y, colours = _TOP + _BAND + 16, self.colours
        share = row["due_share"]
        if pd.notna(share):
            wide = CELL - 24
            self._box(left + 12, y, wide, 8, fill=colours.surface, line=colours.edge)
            self._box(
                left + 12,
                y,
                wide * min(float(share), 1.0),
                8,
                fill=colours.reject if share >= 1 else colours.run,
                line="none",
            )
        for number, line in enumerate(str(row["below"]).splitlines()[:2]):
            self._text(left + CELL / 2, y + 24 + 16 * number, shorten(line, 19), 12, colours.soft)

    def _text(self, x: float, y: float, text: str, size: int, colour: str, bold: bool = False) -> None:
        weight = ' font-weight="700"' if bold else ""
        self.parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="middle" font-size="{size}"{weight} fill="{colour}">'
            f"{escape(text)}</text>"
        )

    def _box(
        self, x: float, y: float, w: float, h: float, fill: str, line: str, wide: float = 1.3, dash: str = ""
    ) -> None:
        stroke = "" if line == "none" else f' stroke="{line}" stroke-width="{wide}"'
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{w:.1f}" height="{h:.1f}" fill="{fill}"{stroke}{dashed}/>'
        )

    def _circle(self, x: float, y: float, radius: float, fill: str, line: str) -> None:
        self.parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius}" fill="{fill}" stroke="{line}" stroke-width="1.3"/>'
        )

    def _line(self, x0: float, y0: float, x1: float, y1: float, colour: str, wide: float) -> None:
        self.parts.append(
            f'<line x1="{x0:.1f}" y1="{y0:.1f}" x2="{x1:.1f}" y2="{y1:.1f}" stroke="{colour}" stroke-width="{wide}"/>'
        )
