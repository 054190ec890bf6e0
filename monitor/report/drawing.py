"""Charts as SVG for paper and screen: no scripts, no fonts of their own, every text escaped."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

import numpy as np

INK, SOFT, RULE, LOUD = "#14191d", "#515a60", "#d3cfc4", "#b8390e"

_LEFT, _RIGHT, _TOP, _BOTTOM = 52, 10, 8, 26

#: Writes a value of an axis with so many decimals.
Label = Callable[[float, int], str]


@dataclass
class Drawing:
    """A drawing in the making: `wide` by `high` units, values from `low` to `top` upwards, `points` places across."""

    wide: int
    high: int
    points: int
    top: float
    label: Label
    parts: list[str]

    def x(self, place: float) -> float:
        """Return where a place (0 = first) lies across."""
        step = (self.wide - _LEFT - _RIGHT) / max(self.points, 1)
        return _LEFT + step * (place + 0.5)

    def y(self, value: float) -> float:
        """Return where a value lies, cut at the top of the drawing."""
        return self.high - _BOTTOM - (self.high - _TOP - _BOTTOM) * min(value, self.top) / self.top

    def line(self, xs: Sequence[float], ys: Sequence[float], colour: str, wide: float, dash: str = "") -> None:
        """Draw a line through points."""
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in zip(xs, ys, strict=True))
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="{wide}"{dashed}/>')

    def dot(self, x: float, y: float, radius: float, colour: str, fill: str, told: str) -> None:
        """Draw a dot; who points near it on a screen is told what it stands for."""
        place = f'cx="{x:.1f}" cy="{y:.1f}"'
        self.parts.append(
            f'<g><title>{escape(told)}</title><circle {place} r="7" fill="none" pointer-events="all"/>'
            f'<circle {place} r="{radius}" fill="{fill}" stroke="{colour}" stroke-width="1.2"/></g>'
        )

    def text(self, x: float, y: float, text: str, anchor: str = "middle") -> None:
        """Write a small text."""
        self.parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="10" '
            f'font-family="DejaVu Sans, sans-serif" fill="{SOFT}">{escape(text)}</text>'
        )

    def svg(self) -> str:
        """Return the finished drawing."""
        head = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.wide} {self.high}"'
        return f'{head} width="{self.wide}" height="{self.high}">{"".join(self.parts)}</svg>'


def _sheet(wide: int, high: int, points: int, most: float, label: Label) -> Drawing:
    step = _step(most)
    top = step * max(1, int(np.ceil(most / step - 1e-9)))
    sheet = Drawing(wide, high, points=points, top=top, label=label, parts=[])
    digits = max(0, -int(np.floor(np.log10(step))))
    for value in np.arange(0, top + step / 2, step):
        y = sheet.y(float(value))
        sheet.line([_LEFT, wide - _RIGHT], [y, y], RULE, 0.7)
        sheet.text(_LEFT - 5, y + 3.5, label(float(value), digits), "end")
    return sheet


def _step(most: float) -> float:
    """Return a round step that gives two to five lines up to a value."""
    if not most > 0:
        return 1.0
    unit = 10.0 ** np.floor(np.log10(most / 2))
    return float(next(unit * k for k in (1, 2, 5, 10) if most / (unit * k) <= 4.5))


def _names(sheet: Drawing, names: Sequence[str], most: int) -> None:
    """Write names under the places, as many as there is room for."""
    every = max(1, -(-len(names) // most))
    for place in range(0, len(names), every):
        sheet.text(sheet.x(place), sheet.high - 9, names[place])


def trend(
    names: Sequence[str],
    values: Sequence[float],
    ends: Sequence[tuple[float, float]],
    accepted: Sequence[float],
    colour: str,
    label: Label,
) -> str:
    """Draw a value a week with its interval, a dot where it is known, and what was accepted as a short bar.

    `values`, `ends`, `accepted` may hold NaN where nothing is known.  The scale holds all values; an interval that
    would dwarf them is cut.
    """
    known = [v for v in values if np.isfinite(v)]
    upper = [high for _, high in ends if np.isfinite(high)]
    most = min(max(upper, default=1.0), 4 * max(known, default=0) or max(upper, default=1.0))
    sheet = _sheet(680, 150, len(names), max(most, *known, 1e-9), label)
    rows = zip(names, values, ends, accepted, strict=True)
    for place, (name, value, (low, high), ours) in enumerate(rows):
        x = sheet.x(place)
        if not np.isfinite(value):
            continue
        if np.isfinite(high):
            sheet.line([x, x], [sheet.y(low), sheet.y(high)], SOFT, 1.4)
        if np.isfinite(ours):
            sheet.line([x - 9, x + 9], [sheet.y(ours)] * 2, LOUD, 2)
        sheet.dot(x, sheet.y(value), radius=4, colour=colour, fill=colour, told=f"{name}: {label(value, 1)}")
    _names(sheet, names, 13)
    return sheet.svg()


def control(
    names: Sequence[str],
    values: Sequence[float],
    centre: float,
    lows: Sequence[float],
    highs: Sequence[float],
    outside: Sequence[bool],
    colour: str,
    label: Label,
) -> str:
    """Draw a control chart, limits stepping from point to point; points beyond them are large and filled."""
    sheet = _sheet(340, 150, len(values), max(*values, *(h for h in highs if np.isfinite(h)), 1e-9), label)
    xs = [sheet.x(place) for place in range(len(values))]
    for limits in (lows, highs):
        _steps(sheet, limits)
    sheet.line([_LEFT, sheet.wide - _RIGHT], [sheet.y(centre)] * 2, INK, 0.8)
    sheet.line(xs, [sheet.y(value) for value in values], colour, 1.1)
    for name, x, value, beyond in zip(names, xs, values, outside, strict=True):
        radius, edge, fill = (3.4, LOUD, LOUD) if beyond else (1.7, colour, "#ffffff")
        sheet.dot(x, sheet.y(value), radius=radius, colour=edge, fill=fill, told=f"{name}: {label(value, 2)}")
    _names(sheet, names, 4)
    return sheet.svg()


def _steps(sheet: Drawing, limits: Sequence[float]) -> None:
    xs, ys = [], []
    for place, limit in enumerate(limits):
        xs += [sheet.x(place - 0.5), sheet.x(place + 0.5)]
        ys += [sheet.y(limit)] * 2
    sheet.line(xs, ys, LOUD, 0.9, "3 2")
