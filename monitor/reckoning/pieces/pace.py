"""When an order will be made at the pace of the last hours, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from shared.durations import HOUR_US

#: Planned hours that must have been worked before their scatter says anything; common practice, no source.
LEAST_HOURS = 4.0


@dataclass(frozen=True)
class Hours:
    """Planned hours that work still takes: the expectation and its 95 % interval [h]."""

    hours: float
    low: float
    high: float


def hours_left(left: float, made: ArrayLike, planned_h: ArrayLike) -> Hours | None:
    """Return the planned hours that `left` pieces take, from pieces made and planned hours of each past clock hour.

    Standing is in the pace, since it is in planned time.  The interval holds the scatter from hour to hour, over the
    time still to come, and what it leaves in doubt of the pace itself; hours are taken as independent, so that one
    long stop may take the work beyond it.  None where nothing was made or less than `LEAST_HOURS` were worked.
    """
    pieces, hours = np.asarray(made, float), np.asarray(planned_h, float)
    total_h = float(hours.sum())
    if total_h < LEAST_HOURS or not pieces.sum() > 0:
        return None
    pace = float(pieces.sum()) / total_h
    expected = max(0.0, left) / pace
    count = int(np.count_nonzero(hours))
    variance = float(np.sum((pieces - pace * hours) ** 2) / max(1, count - 1)) * count / total_h  # an hour
    doubt = math.sqrt(variance * expected * (1 + expected / total_h)) / pace
    reach = float(special.stdtrit(max(1, count - 1), 0.975)) * doubt
    return Hours(expected, max(0.0, expected - reach), expected + reach)


def moment_after(hours: float, from_us: int, open_us: Sequence[tuple[int, int]]) -> int | None:
    """Return when so many hours have passed since `from_us` in the open stretches [us]; None where they do not do."""
    rest = round(hours * HOUR_US)
    for begin, end in open_us:
        begin = max(begin, from_us)
        if end - begin >= rest:
            return begin + rest
        rest -= max(0, end - begin)
    return None
