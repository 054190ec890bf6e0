"""The span of a fold cut into stretches inside which nothing that a fact depends on changes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from monitor.reckoning.fold.gaps import SeenTime
from monitor.reckoning.press.counters import Counted, Ints
from monitor.reckoning.press.running import StandingTime, seconds_before
from monitor.reckoning.press.split import before_cuts
from monitor.reckoning.press.stops import StopPiece


@dataclass(frozen=True)
class Segment:
    """A stretch (from, to] [us] between two cuts: strokes, strokes with strip fed, and how the time was spent [us].

    `untimed` are the strokes among them whose running time is not known.
    """

    from_us: int
    to_us: int
    strokes: int
    feeds: int
    stopped_us: int
    off_plan_us: int
    unresolved_us: int
    untimed: int


def cuts_inside(counted: Counted, moments_us: Iterable[int]) -> Ints:
    """Return the ends of the span and all given moments inside it [us], ascending, each once."""
    first, last = int(counted.start_us[0]), int(counted.end_us[-1])
    return np.array(sorted({us for us in moments_us if first < us < last} | {first, last}), dtype=np.int64)


def cut_up(seen: SeenTime, cuts_us: Ints, stood: StandingTime, pieces: Sequence[StopPiece]) -> list[Segment]:
    """Share strokes and time over the stretches between cuts; the shares add up exactly."""
    counted, dark = seen.counted, seen.unresolved
    strokes = before_cuts(cuts_us, counted.start_us, counted.end_us, counted.strokes)
    columns = (
        np.diff(strokes),
        np.diff(_feeds_before(cuts_us, counted, strokes)),
        np.diff(seconds_before(cuts_us, stood.starts_us, stood.ends_us)),
        np.diff(seconds_before(cuts_us, *off_plan(pieces))),
        np.diff(seconds_before(cuts_us, counted.start_us[dark], counted.end_us[dark])),
        np.diff(before_cuts(cuts_us, counted.start_us, counted.end_us, seen.untimed)),
    )
    rows = zip(cuts_us[:-1].tolist(), cuts_us[1:].tolist(), *(c.tolist() for c in columns), strict=True)
    return [Segment(*row) for row in rows]


def _feeds_before(cuts_us: Ints, counted: Counted, strokes: Ints) -> Ints:
    known = counted.feeds >= 0
    if not known.any():
        return strokes
    fed = np.where(known, counted.feeds, counted.strokes)
    return before_cuts(cuts_us, counted.start_us, counted.end_us, fed)


def off_plan(pieces: Sequence[StopPiece]) -> tuple[Ints, Ints]:
    """Return starts and ends [us] of the standing that does not count in planned time."""
    spans = [(piece.from_us, piece.to_us) for piece in pieces if not piece.in_plan]
    both = np.array(spans, dtype=np.int64).reshape(-1, 2)
    return both[:, 0], both[:, 1]
