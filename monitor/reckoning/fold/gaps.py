"""Gaps between two readings: whether the press ran, stood, or nobody saw, and where the strokes of a gap count."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from monitor.reckoning.press import die_events
from monitor.reckoning.press.carry import Carry
from monitor.reckoning.press.counters import Counted, Ints
from monitor.reckoning.press.press_day import Die, DieChange, PressDay, in_order
from monitor.reckoning.press.stops import PlanIndex
from shared.durations import DAY_US, FOREVER_US, MINUTE_US, SECOND_US

Bools: TypeAlias = npt.NDArray[np.bool_]

#: A logger that writes once a shift may come this much late [us].
LATE_US = 5 * MINUTE_US

#: Where the plan has no shift, strokes are spread over a plant day at most [us].
_LONGEST_SPREAD_US = DAY_US


@dataclass(frozen=True)
class SeenTime:
    """Intervals between readings, and in which of them nobody saw how the time was spent.

    A gap too long to spread is two intervals: one without strokes, and its last moment with all of them.
    """

    counted: Counted
    unresolved: Bools

    @property
    def idle(self) -> Bools:
        """Tell for each interval whether the press is known to have made no stroke in it."""
        idle: Bools = (self.counted.strokes == 0) & ~self.unresolved
        return idle

    @property
    def spans(self) -> list[tuple[int, int]]:
        """Return the stretches [us] in which nobody saw how the time was spent, neighbours joined."""
        edge = np.diff(np.concatenate(([0], self.unresolved.astype(np.int8), [0])))
        first, after = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1)
        starts, ends = self.counted.start_us[first], self.counted.end_us[after - 1]
        return list(zip(starts.tolist(), ends.tolist(), strict=True))

    @property
    def untimed(self) -> Ints:
        """Return the strokes of each interval whose running time is not known."""
        return np.where(self.unresolved, self.counted.strokes, 0)


def resolve(counted: Counted, day: PressDay, carry: Carry, plan: PlanIndex, moments_us: Sequence[int]) -> SeenTime:
    """Find time that nobody saw, and count the strokes of a gap longer than a shift at its end.

    `moments_us`, ascending, are all moments at which strokes are cut apart.  Where the counter did not move the press
    stood; a counter that was set back moved.  It ran where the strokes, at rated speed, leave no room for a stop, in
    a gap of a shift at most: nothing runs for longer without one, so it is the rated speed that is too low there.
    """
    length = counted.end_us - counted.start_us
    moved = (counted.strokes > 0) | np.isin(counted.end_us, np.array(counted.resets_us, dtype=np.int64))
    gaps = np.flatnonzero(moved & (length > day.press.stop_after_us))
    unresolved = np.zeros(len(length), dtype=bool)
    long = []
    speed = _Speed(day, carry, plan)
    for at in gaps.tolist():
        start, end = int(counted.start_us[at]), int(counted.end_us[at])
        if end - start > plan.longest_us(start, end, _LONGEST_SPREAD_US) + LATE_US:
            long.append(at)
        elif speed.needed_us(start, end, int(counted.strokes[at])) >= end - start - day.press.stop_after_us:
            continue
        unresolved[at] = True
    seen = SeenTime(counted, unresolved)
    return _at_the_end(seen, np.array(long, dtype=np.int64), moments_us) if long else seen


def _at_the_end(seen: SeenTime, long: Ints, moments_us: Sequence[int]) -> SeenTime:
    """Count the strokes of long gaps in the last second before the reading, after everything that lies before it."""
    counted = seen.counted
    edges = []
    for start, end in zip(counted.start_us[long].tolist(), counted.end_us[long].tolist(), strict=True):
        before = bisect_left(moments_us, end) - 1
        edges.append(max(start, end - SECOND_US, moments_us[before] if before >= 0 else start))
    split = replace(
        counted,
        start_us=np.insert(counted.start_us, long + 1, edges),
        end_us=np.insert(counted.end_us, long, edges),
        strokes=np.insert(counted.strokes, long, 0),
        feeds=np.insert(counted.feeds, long, 0),
    )
    return SeenTime(split, np.insert(seen.unresolved, long, True))


class _Speed:
    """The rated speed of a press with the dies that were in it; the lower of the two counts."""

    def __init__(self, day: PressDay, carry: Carry, plan: PlanIndex) -> None:
        self._day = day
        self._plan = plan
        self._since = [-FOREVER_US]
        self._dies = [carry.die.die_id if carry.die else ""]
        for event in in_order(list(day.events)):
            if isinstance(event, DieChange):
                carry = die_events.apply(event, carry)
                self._since.append(event.time_us)
                self._dies.append(carry.die.die_id if carry.die else "")

    def needed_us(self, start_us: int, end_us: int, strokes: int) -> float:
        """Return the time [us] that the strokes of a gap take at the rated speed of its fastest die; 0 = not known."""
        first, after = bisect_right(self._since, start_us) - 1, bisect_left(self._since, end_us)
        dies = self._day.page(self._plan.shift(start_us)[0]).dies
        speeds = [self._rated_spm(dies.get(die_id)) for die_id in set(self._dies[first : max(after, first + 1)])]
        known = [speed for speed in speeds if speed]
        return strokes * MINUTE_US / max(known) if len(known) == len(speeds) else 0.0

    def _rated_spm(self, die: Die | None) -> float | None:
        speeds = [speed for speed in (self._day.press.rated_spm, die.rated_spm if die else None) if speed]
        return min(speeds, default=None)
