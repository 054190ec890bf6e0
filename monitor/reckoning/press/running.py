"""Running and standing time of a press, as its counter shows it.

Actual production time is the time in which the press strokes; a gap between strokes up to `stop_after_us` counts as
running (ISO 22400-2 leaves the length of that gap to the plant).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from monitor.reckoning.press.counters import Counted, Ints


@dataclass(frozen=True)
class Idle:
    """A stretch without strokes that has not ended: since when [us], and whether it is a stop already."""

    since_us: int
    is_stop: bool


@dataclass(frozen=True)
class StopTimes:
    """Stops inside the counted span [us] and the idle stretch, if any, with which it ends.

    `starts_us` may lie before the span when the stop began earlier; `carried` tells how the idle stretch that was
    open at the beginning came out: True a stop, False running, None there was none or it is still open.
    """

    starts_us: Ints
    ends_us: Ints
    open_idle: Idle | None
    carried: bool | None


def find_stops(counted: Counted, idle: npt.NDArray[np.bool_], stop_after_us: int, carried: Idle | None) -> StopTimes:
    """Find the stops: stretches of `idle` intervals that last longer than `stop_after_us` [us].

    `idle` tells for each interval whether the press is known to have made no stroke in it.
    """
    if len(idle) == 0:
        return StopTimes(counted.start_us, counted.end_us, carried, None)
    begins, ends = _idle_stretches(counted, idle, carried)
    is_stop = ends - begins > stop_after_us
    if carried is not None and idle[0]:
        is_stop[0] |= carried.is_stop
    open_idle = Idle(int(begins[-1]), bool(is_stop[-1])) if idle[-1] else None
    return StopTimes(begins[is_stop], ends[is_stop], open_idle, _outcome(carried, idle, is_stop))


def _outcome(carried: Idle | None, idle: npt.NDArray[np.bool_], is_stop: npt.NDArray[np.bool_]) -> bool | None:
    if carried is None:
        return None
    if not idle[0]:
        return False
    if is_stop[0]:
        return True
    return None if idle.all() else False


def _idle_stretches(counted: Counted, idle: npt.NDArray[np.bool_], carried: Idle | None) -> tuple[Ints, Ints]:
    edge = np.diff(np.concatenate(([0], idle.astype(np.int8), [0])))
    first, after = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1)
    begins, ends = counted.start_us[first].copy(), counted.end_us[after - 1].copy()
    if carried is not None and len(first) and first[0] == 0:
        begins[0] = carried.since_us
    return begins, ends


def seconds_before(cuts_us: Ints, starts_us: Ints, ends_us: Ints) -> Ints:
    """Return how much [us] of the disjoint ascending stretches lies before each cut [us]."""
    if len(starts_us) == 0:
        return np.zeros(len(cuts_us), dtype=np.int64)
    whole = np.concatenate(([0], np.cumsum(ends_us - starts_us)))
    at = np.searchsorted(starts_us, cuts_us, side="right")
    last = np.maximum(at - 1, 0)
    inside = np.clip(cuts_us - starts_us[last], 0, ends_us[last] - starts_us[last])
    return np.where(at == 0, 0, whole[last] + inside)
