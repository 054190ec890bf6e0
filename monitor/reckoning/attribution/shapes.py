"""How a measured circumstance may move the rate: a slope, a step, or a stretch at the ends of a coil.

Every shape is one column between 0 and 1.  It is asked both ways round: high where the rate is high, or high where it
is low.  A value that is not known takes the mean of the known ones and so says nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from shared.factors import Level

Floats = NDArray[np.float64]

# Lengths from a coil's ends [m] that are looked at as a stretch of their own; common practice, no source.
END_LENGTHS_M = (1.0, 3.0, 6.0, 10.0, 20.0, 40.0, 80.0)
# Strokes after sharpening or setting that are looked at as a stretch of their own; common practice, no source.
FIRST_STROKES = (200.0, 1000.0, 3000.0, 6000.0, 12000.0, 25000.0)
# Shares of the pieces at which a step is looked for.
STEP_SHARES = np.r_[0.02, 0.04, 0.07, np.arange(0.1, 0.91, 0.05), 0.93, 0.96, 0.98]

# A jump is looked for at so many days at most.
_MOST_DAYS = 120


@dataclass(frozen=True)
class Slope:
    """A smooth column and its level where high is bad and where low is bad (None = not asked)."""

    column: Floats
    high: Level
    low: Level | None = None


@dataclass(frozen=True)
class Cuts:
    """Values at which a step is looked for; `over` and `under` make the level of a cut: rows from it on, or below."""

    at: Floats
    over: Callable[[float], Level]
    under: Callable[[float], Level]


@dataclass(frozen=True)
class Quantity:
    """One measured circumstance: its slopes and the cuts at which a step is looked for.

    `shares` says how likely each question is held beforehand: slopes high, slopes low, steps over, under.
    """

    name: str
    values: Floats
    slopes: tuple[Slope, ...]
    shares: tuple[float, float, float, float]
    cuts: Cuts | None = None
    stretches: tuple[Slope, ...] = field(default=())

    def around(self, rows: NDArray[np.bool_]) -> Iterator[tuple[Level, Floats]]:
        """Steps as levels and as columns that hold these rows and as few others as can be."""
        values = self.values[rows & ~np.isnan(self.values)]
        if not values.size or self.cuts is None or not self.cuts.at.size:
            return
        unknown = np.isnan(self.values)
        low, high = float(values.min()), float(values.max())
        yield self.cuts.over(low), np.where(unknown, np.nan, self.values >= low)
        yield self.cuts.under(np.nextafter(high, np.inf)), np.where(unknown, np.nan, self.values <= high)


def wear(name: str, strokes: Floats, inspected: Floats, stations: tuple[int, ...]) -> Quantity:
    """Strokes since sharpening: rising in several curves, over a limit; falling, and the first strokes after.

    A fresh edge may be the bad one (slugs pulled, a punch not shimmed), so that is asked too.
    """
    part = _unit(strokes)
    slopes = (
        Slope(part, Level("sharpening_rising", stations=stations), low=Level("sharpening_falling", stations=stations)),
        Slope(part**2, Level("sharpening_rising_faster", stations=stations)),
        Slope(part**4, Level("sharpening_rising_late", stations=stations)),
    )
    cuts = Cuts(
        at=_with(_cuts(strokes, inspected), FIRST_STROKES[1:], strokes),
        over=lambda cut: Level("sharpening_from", number=round(cut), stations=stations),
        under=lambda cut: Level("sharpening_first", number=round(cut), stations=stations),
    )
    return Quantity(
        name=name,
        values=strokes,
        slopes=slopes,
        shares=(0.45, 0.05, 0.25, 0.25),
        cuts=cuts,
    )


def before_sharpening(name: str, strokes: Floats) -> Quantity:
    """Strokes seen before the first sharpening that is known: how dull the edge was is not known, that it wore is."""
    return Quantity(
        name=name,
        values=strokes,
        slopes=(Slope(_unit(strokes), Level("before_sharpening_rising")),),
        shares=(0.1, 0.0, 0.0, 0.0),
    )


def drift(name: str, day: Floats, inspected: Floats) -> Quantity:
    """Time: rising, falling, and a jump that stays."""
    del inspected  # a jump may come on any day, however few pieces lie before it
    days = np.unique(day[~np.isnan(day)])[1:]
    picked = np.unique(np.linspace(0, max(days.size - 1, 0), min(days.size, _MOST_DAYS)).astype(int))
    return Quantity(
        name=name,
        values=day,
        slopes=(Slope(_unit(day), Level("time_rising"), low=Level("time_falling")),),
        shares=(0.2, 0.2, 0.3, 0.3),
        cuts=Cuts(
            at=days[picked],
            over=lambda cut: Level("time_since", number=round(cut)),
            under=lambda cut: Level("time_before", number=round(cut)),
        ),
    )


def amount(name: str, values: Floats, inspected: Floats, label: str) -> Quantity:
    """A speed or a certificate value: higher is worse, lower is worse, or only beyond a limit."""
    low, high = np.nanquantile(values, (0.01, 0.99)) if np.any(~np.isnan(values)) else (0.0, 0.0)
    return Quantity(
        name=name,
        values=values,
        slopes=(Slope(_unit(np.clip(values, low, high)), Level("value_high", label), low=Level("value_low", label)),),
        shares=(0.3, 0.3, 0.2, 0.2),
        cuts=Cuts(
            at=_cuts(values, inspected),
            over=lambda cut: Level("value_from", label, number=float(f"{cut:.4g}")),
            under=lambda cut: Level("value_under", label, number=float(f"{cut:.4g}")),
        ),
    )


def since_set(name: str, strokes: Floats, inspected: Floats) -> Quantity:
    """Strokes since the die was set: the first ones, a slow rise, or late in a run."""
    return Quantity(
        name=name,
        values=strokes,
        slopes=(Slope(_unit(strokes), Level("setting_rising"), low=Level("setting_falling")),),
        shares=(0.2, 0.1, 0.1, 0.6),
        cuts=Cuts(
            at=_with(_cuts(strokes, inspected), FIRST_STROKES, strokes),
            over=lambda cut: Level("setting_from", number=round(cut)),
            under=lambda cut: Level("setting_first", number=round(cut)),
        ),
    )


def coil_position(name: str, head_m: Floats, tail_m: Floats) -> Quantity:
    """Place along a coil: its first metres, its last, both, and a slope towards the inner or the outer wraps."""
    stretches = []
    for length in END_LENGTHS_M:
        head, tail = _under(head_m, length), _under(tail_m, length)
        stretches.append(Slope(head, Level("coil_first", number=length)))
        stretches.append(Slope(tail, Level("coil_last", number=length)))
        stretches.append(Slope(np.fmax(head, tail), Level("coil_ends", number=length)))
    part = head_m / np.where(head_m + tail_m > 0, head_m + tail_m, np.nan)
    return Quantity(
        name=name,
        values=part,
        slopes=(Slope(part, Level("coil_towards_end"), low=Level("coil_towards_start")),),
        shares=(0.05, 0.05, 0.0, 0.0),
        stretches=tuple(stretches),
    )


def filled(column: Floats, inspected: Floats) -> Floats:
    """Put the mean of the known values where the value is not known."""
    known = ~np.isnan(column)
    if not known.any():
        return np.zeros_like(column)
    return np.where(known, column, np.average(column[known], weights=inspected[known]))


def _unit(values: Floats) -> Floats:
    if np.all(np.isnan(values)):
        return values
    low, high = np.nanmin(values), np.nanmax(values)
    part: Floats = (values - low) / (high - low) if high > low else 0 * values
    return part


def _under(values: Floats, cut: float) -> Floats:
    under: Floats = np.where(np.isnan(values), np.nan, values < cut)
    return under


def _cuts(values: Floats, inspected: Floats) -> Floats:
    """Values below which the step shares of the pieces lie."""
    known = np.flatnonzero(~np.isnan(values))
    if not known.size:
        return np.zeros(0)
    order = known[np.argsort(values[known], kind="stable")]
    reached = np.cumsum(inspected[order]) / inspected[order].sum()
    return np.unique(values[order][np.searchsorted(reached, STEP_SHARES)])


def _with(cuts: Floats, also: tuple[float, ...], values: Floats) -> Floats:
    """Add round cuts that lie within the values."""
    if not cuts.size:
        return cuts
    inside = [cut for cut in also if np.nanmin(values) < cut <= np.nanmax(values)]
    return np.unique(np.r_[cuts, inside])
