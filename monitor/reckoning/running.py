"""Running and standing time of a press, as its counter shows it.

Actual production time is the time in which the press strokes; a gap between strokes up to `stop_after_us` counts as
running (ISO 22400-2 leaves the length of that gap to the plant).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from monitor.reckoning.counters import Counted, Ints


@dataclass(frozen=True)
class Idle:
    """A stretch without strokes that has not ended: since when [us], and whether it is a stop already."""

    since_us: int
    is_stop: bool


@dataclass(frozen=True)
class Standing:
    """Stops inside the counted span [us] and the idle stretch, if any, with which it ends.

    `starts_us` may lie before the span when the stop began earlier; `carried` tells how the idle stretch that was
    open at the beginning came out: True a stop, False running, None there was none or it is still open.
    """

    starts_us: Ints
    ends_us: Ints
    open_idle: Idle | None
    carried: bool | None


def is_active(counted: Counted, stop_after_us: int) -> npt.NDArray[np.bool_]:
    """Tell for each interval whether the press stroked in it.

    A long interval counts when its strokes, spread evenly, lie no further apart than a stop.
    """
    length = counted.end_us - counted.start_us
    return (counted.strokes > 0) & (length <= stop_after_us * counted.strokes)


def unresolved(counted: Counted, active: npt.NDArray[np.bool_], stop_after_us: int) -> npt.NDArray[np.bool_]:
    """Tell which running intervals are too long to show the stops inside them."""
    return active & (counted.end_us - counted.start_us > stop_after_us)


def standing(counted: Counted, active: npt.NDArray[np.bool_], stop_after_us: int, carried: Idle | None) -> Standing:
    """Find the stops: stretches of intervals without strokes that last longer than `stop_after_us` [us]."""
    if len(active) == 0:
        return Standing(counted.start_us, counted.end_us, carried, None)
    begins, ends = _idle_stretches(counted, active, carried)
    is_stop = ends - begins > stop_after_us
    if carried is not None and not active[0]:
        is_stop[0] |= carried.is_stop
    open_idle = None if active[-1] else Idle(int(begins[-1]), bool(is_stop[-1]))
    return Standing(begins[is_stop], ends[is_stop], open_idle, _outcome(carried, active, is_stop))


def _outcome(carried: Idle | None, active: npt.NDArray[np.bool_], is_stop: npt.NDArray[np.bool_]) -> bool | None:
    if carried is None:
        return None
    if active[0]:
        return False
    if is_stop[0]:
        return True
    return None if not active.any() else False


def _idle_stretches(counted: Counted, active: npt.NDArray[np.bool_], carried: Idle | None) -> tuple[Ints, Ints]:
    edge = np.diff(np.concatenate(([1], active.astype(np.int8), [1])))
    first, after = np.flatnonzero(edge == -1), np.flatnonzero(edge == 1)
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
