"""The charts of an evidence sheet as SVG for paper, told apart by shape and weight: a copy in grey still reads."""

from __future__ import annotations

from collections.abc import Collection
from html import escape

import numpy as np
import pandas as pd

from monitor.charts.coil_rates import lot_blocks
from monitor.figures.judgement.bench import Case
from monitor.report.drawing import INK, LOUD, RULE, SOFT, Drawing
from shared.words import Words

_WIDE, _HIGH, _LEFT, _RIGHT, _BOTTOM = 680, 210, 52, 10, 26
_LOTS = 20
_NAMED = 14
_LETTER = 6.2


def rates_svg(shown: Case, suspect: Collection[str], words: Words) -> str:
    """Return the rate of each coil in the order run with its interval; coils of `suspect` are filled."""
    coils = shown.coils
    top = float(max(coils["rate_high"].max(), coils["limit_high"].max()))
    top = min(top, 3 * float(coils["rate"].max()) or top) or 1.0
    sheet = _sheet(len(coils), top, words)
    for row in shown.changes.to_dict("records"):
        left, right = sheet.x(row["place_low"]), sheet.x(row["place_high"])
        _box(sheet, left, y=8, wide=max(right - left, 1.0), high=_HIGH - 34, colour="#f0d8cd")
    for column, colour, wide, dash in (
        ("limit_high", SOFT, 0.9, "3 2"), ("limit_low", SOFT, 0.9, "3 2"), ("usual", INK, 0.7, ""),
        ("wear_rate", INK, 2.2, ""),
    ):  # fmt: skip
        _steps(sheet, coils[column].to_numpy(np.float64), colour, wide, dash)
    for place, row in enumerate(coils.to_dict("records")):
        _coil(
            sheet, place, rate=row["rate"], low=row["rate_low"], high=row["rate_high"], filled=row["coil_id"] in suspect
        )
    for row in shown.marks[shown.marks["kind"] == "sharpened"].to_dict("records"):
        _triangle(sheet, sheet.x(row["place"]), _HIGH - _BOTTOM)
    _lots(sheet, coils)
    return _svg(sheet, _HIGH + _LOTS)


def wear_svg(bins: pd.DataFrame, words: Words) -> str:
    """Return the rate of each bin of strokes since sharpening with its interval."""
    known = bins[bins["inspected"] > 0]
    sheet = _sheet(len(known), float(known["rate_high"].max()) or 1.0, words)
    for place, row in enumerate(known.to_dict("records")):
        _coil(sheet, place, row["rate"], row["rate_low"], row["rate_high"], filled=True)
        sheet.line([sheet.x(place - 0.45), sheet.x(place + 0.45)], [sheet.y(row["rate"])] * 2, INK, 1.6)
        sheet.text(sheet.x(place), _HIGH - 10, words.number(row["strokes_to"]))
    return _svg(sheet, _HIGH)


def _sheet(points: int, top: float, words: Words) -> Drawing:
    """Return an empty drawing with rates up the side."""
    sheet = Drawing(
        _WIDE, _HIGH, points=points, top=1.05 * top, label=lambda value, digits: words.per_cent(value, digits), parts=[]
    )
    for value in np.linspace(0, top, 4):
        y = sheet.y(float(value))
        sheet.line([_LEFT, _WIDE - _RIGHT], [y, y], RULE, 0.7)
        sheet.text(_LEFT - 5, y + 3.5, words.per_cent(float(value), 2), "end")
    return sheet


def _coil(sheet: Drawing, place: int, rate: float, low: float, high: float, filled: bool) -> None:
    x, colour = sheet.x(place), LOUD if filled else INK
    sheet.line([x, x], [sheet.y(low), sheet.y(high)], colour, 1.2)
    radius = max(1.2, min(3.2, 160 / max(sheet.points, 1)))
    sheet.parts.append(
        f'<circle cx="{x:.1f}" cy="{sheet.y(rate):.1f}" r="{radius:.1f}" fill="{colour if filled else "#ffffff"}" '
        f'stroke="{colour}" stroke-width="1.1"/>'
    )


def _steps(sheet: Drawing, values: np.ndarray, colour: str, wide: float, dash: str) -> None:
    """Draw a value a coil as steps; where it is not known there is a gap."""
    known = np.isfinite(values)
    starts = np.flatnonzero(known & ~np.r_[False, known[:-1]])
    ends = np.flatnonzero(known & ~np.r_[known[1:], False])
    for start, end in zip(starts, ends, strict=True):
        places = np.arange(start, end + 1)
        xs = [sheet.x(float(place) + shift) for place in places for shift in (-0.5, 0.5)]
        sheet.line(xs, [sheet.y(float(values[place])) for place in places for _ in (0, 1)], colour, wide, dash)


def _lots(sheet: Drawing, coils: pd.DataFrame) -> None:
    """Draw the lots as blocks below the coils, each with its name where there is room for it."""
    for number, row in enumerate(lot_blocks(coils).to_dict("records")):
        left, right = sheet.x(row["first"] - 0.5), sheet.x(row["last"] + 0.5)
        _box(sheet, left, y=_HIGH - 20, wide=right - left, high=16, colour="#e4e7e9" if number % 2 else "#c9d0d5")
        name = str(row["lot"]) or "?"
        room = int((right - left) / _LETTER)
        if room >= min(len(name), _NAMED):
            sheet.text((left + right) / 2, _HIGH - 8.5, name[:_NAMED])


def _box(sheet: Drawing, x: float, y: float, wide: float, high: float, colour: str) -> None:
    sheet.parts.append(
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{high:.1f}" fill="{escape(colour)}"/>'
    )


def _triangle(sheet: Drawing, x: float, y: float) -> None:
    sheet.parts.append(f'<path d="M{x - 4:.1f} {y:.1f} L{x + 4:.1f} {y:.1f} L{x:.1f} {y - 7:.1f} Z" fill="{INK}"/>')


def _svg(sheet: Drawing, high: int) -> str:
    head = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDE} {high}" width="{_WIDE}" height="{high}">'
    return f"{head}{''.join(sheet.parts)}</svg>"
