"""Clocks of counter loggers that jump: back, so that time falls while the counter goes on, or ahead between rows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from monitor.reckoning.press.counters import Ints
from shared.durations import MINUTE_US, SECOND_US

#: Clocks that are set or that synchronise move by less than a time zone (common practice, no source).
_REACH_US = 150 * MINUTE_US
#: Less than this is the jitter of a logger, ahead more than it is back, where readings also come late (common
#: practice, no source).
_BACK_US, _AHEAD_US = 2 * SECOND_US, MINUTE_US
#: So many readings before and after a jump ahead must run evenly, in time and in strokes within these shares, and the
#: logger must write rows while the press stands, or a stop would look the same (common practice, no source).
_BESIDE, _EVEN_TIME, _EVEN_STROKES = 5, 0.05, 0.25
_FEWEST_STROKES = 5


@dataclass(frozen=True)
class Jump:
    """A clock that jumps just before the reading at a place: from and to where [us]; `by_us` < 0 is back."""

    place: int
    from_us: int
    to_us: int
    by_us: int


def jumps(time_us: Ints, counter: Ints) -> list[Jump]:
    """Jumps of the clock within readings of one press, as they stand in a file; times [us since 1970 UTC]."""
    if len(time_us) < 2:
        return []
    length, rise = np.diff(time_us), np.diff(counter)
    back = (length < -_BACK_US) & (length > -_REACH_US) & (rise > 0)
    usual = int(np.median(length))
    # Blocks of rows in any order fall in time as well, but not far, nor with a counter that goes on.
    back &= rise <= 4 * max(int(np.median(rise[rise > 0])), _FEWEST_STROKES) if (rise > 0).any() else back
    found = [(place, int(length[place]) - usual) for place in np.flatnonzero(back).tolist()]
    found += [(place, int(length[place]) - usual) for place in _ahead(length, rise, usual)]
    return [Jump(at + 1, int(time_us[at]), int(time_us[at + 1]), by_us) for at, by_us in sorted(found)]


def _ahead(length: Ints, rise: Ints, usual: int) -> list[int]:
    """Places of single long intervals with the strokes of a usual one, in the midst of an even run."""
    regular = np.abs(length - usual) <= _EVEN_TIME * usual
    long = np.flatnonzero((length > usual + _AHEAD_US) & (length < _REACH_US))
    if len(long) > _BESIDE or int((regular & (rise == 0)).sum()) < _BESIDE:
        return []
    return [at for at in long.tolist() if _runs_evenly(regular, rise, at)]


def _runs_evenly(regular: npt.NDArray[np.bool_], rise: Ints, at: int) -> bool:
    beside = [*range(at - _BESIDE, at), *range(at + 1, at + 1 + _BESIDE)]
    if beside[0] < 0 or beside[-1] >= len(rise) or not regular[beside].all():
        return False
    usual = float(np.median(rise[beside]))
    even = np.abs(rise[[*beside, at]] - usual) <= _EVEN_STROKES * usual
    return usual >= _FEWEST_STROKES and bool(even.all())
