"""The span of a fold cut into stretches inside which nothing that a fact depends on changes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from monitor.reckoning.fold.gaps import SeenTime
from monitor.reckoning.press.counters import Counted, Ints
from monitor.reckoning.press.running import StopTimes, seconds_before
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


def cut_up(seen: SeenTime, cuts_us: Ints, stood: StopTimes, pieces: Sequence[StopPiece]) -> list[Segment]:
    """Share strokes and time over the stretches between cuts; the shares add up exactly."""
    counted, dark = seen.counted, seen.unresolved
    strokes = before_cuts(cuts_us, counted.start_us, counted.end_us, counted.strokes)
    feeds = _feeds_before(cuts_us, counted, strokes)
    stopped = seconds_before(cuts_us, stood.starts_us, stood.ends_us)
    off_us = seconds_before(cuts_us, *off_plan(pieces))
    unresolved = seconds_before(cuts_us, counted.start_us[dark], counted.end_us[dark])
    untimed = before_cuts(cuts_us, counted.start_us, counted.end_us, seen.untimed)
    shares = (np.diff(before).tolist() for before in (strokes, feeds, stopped, off_us, unresolved, untimed))
    return [
        Segment(
            from_us=from_us,
            to_us=to_us,
            strokes=made,
            feeds=fed,
            stopped_us=stood_us,
            off_plan_us=off_plan_us,
            unresolved_us=unresolved_us,
            untimed=without_time,
        )
        for from_us, to_us, made, fed, stood_us, off_plan_us, unresolved_us, without_time in zip(
            cuts_us[:-1].tolist(), cuts_us[1:].tolist(), *shares, strict=True
        )
    ]


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
