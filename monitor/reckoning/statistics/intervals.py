"""Intervals for a scrap share and for a scrap rate.

Counts in, `(low, high)` out, element by element, so one call serves a whole table.  Where nothing was
inspected nothing is known, and both ends are NaN: never 0.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

Floats = NDArray[np.float64]
Interval = tuple[Floats, Floats]


def wilson(rejected: ArrayLike, inspected: ArrayLike, confidence: float = 0.95) -> Interval:
    """Score interval of a share: the everyday interval, close to its stated confidence on average.

    `rejected`, `inspected` [pieces]: any shapes that broadcast.  Returns low and high [1], 0 to 1.
    Raises ValueError for negative counts, more rejected than inspected, or a confidence outside 0 to 1.
    Source: Wilson (1927), JASA 22, 209-212; Newcombe (1998), method 3.
    """
    x, n = _share_counts(rejected, inspected)
    z = _normal_quantile(confidence)
    centre = (x + z**2 / 2) / (n + z**2)
    half = z / (n + z**2) * np.sqrt(x * (n - x) / n + z**2 / 4)
    # The ends are exactly 0 and 1 at no and at all rejected; rounding would leave a trace.
    low = np.where(x == 0, 0.0, centre - half)
    high = np.where(x == n, 1.0, centre + half)
    return _known(low, n), _known(high, n)


def clopper_pearson(rejected: ArrayLike, inspected: ArrayLike, confidence: float = 0.95) -> Interval:
    """Exact interval of a share: never below its stated confidence, therefore wider.

    `rejected`, `inspected` [pieces]: any shapes that broadcast.  Returns low and high [1], 0 to 1.
    Raises ValueError as `wilson`.  Source: Clopper and Pearson (1934), Biometrika 26, 404-413.
    """
    x, n = _share_counts(rejected, inspected)
    tail = _tail(confidence)
    low = np.where(x == 0, 0.0, special.betaincinv(np.maximum(x, 1), n - x + 1, tail))
    high = np.where(x == n, 1.0, special.betaincinv(x + 1, np.maximum(n - x, 1), 1 - tail))
    return _known(low, n), _known(high, n)


def agresti_coull(rejected: ArrayLike, inspected: ArrayLike, confidence: float = 0.95) -> Interval:
    """Interval of a share for working out by hand: add z²/2 bad and z²/2 good pieces, then use the normal.

    `rejected`, `inspected` [pieces]: any shapes that broadcast.  Returns low and high [1], cut at 0 and 1.
    Raises ValueError as `wilson`.  Source: Agresti and Coull (1998), The American Statistician 52, 119-126.
    """
    x, n = _share_counts(rejected, inspected)
    z = _normal_quantile(confidence)
    share = (x + z**2 / 2) / (n + z**2)
    half = z * np.sqrt(share * (1 - share) / (n + z**2))
    return _known(np.maximum(share - half, 0.0), n), _known(np.minimum(share + half, 1.0), n)


def poisson_exact(events: ArrayLike, exposure: ArrayLike = 1.0, confidence: float = 0.95) -> Interval:
    """Exact interval of a rate of events per unit of exposure (faults per piece, rejects per stroke).

    `events` [count], `exposure` [any unit, above 0]: any shapes that broadcast.  Returns low and high
    [1 / unit of exposure].  Raises ValueError for negative events or exposure, or confidence outside 0 to 1.
    Source: Garwood (1936), Biometrika 28, 437-442.
    """
    x, units = np.broadcast_arrays(np.asarray(events, float), np.asarray(exposure, float))
    if np.any(x < 0) or np.any(units < 0):
        raise ValueError("events and exposure must not be negative")
    tail = _tail(confidence)
    unit = np.where(units > 0, units, np.nan)
    low = np.where(x == 0, 0.0, special.gammaincinv(np.maximum(x, 1), tail))
    high = special.gammaincinv(x + 1, 1 - tail)
    return low / unit, high / unit


def share_bound_without_rejects(inspected: ArrayLike, confidence: float = 0.95) -> Floats:
    """Highest share that still explains no reject among the pieces seen (one-sided); about 3 / n at 95 %.

    `inspected` [pieces].  Returns the bound [1], 0 to 1; NaN where nothing was inspected.
    Source: Hanley and Lippman-Hand (1983), JAMA 249, 1743-1745.
    """
    _, n = _share_counts(0, inspected)
    _tail(confidence)
    bound: Floats = -np.expm1(np.log1p(-confidence) / n)
    return bound


def _share_counts(rejected: ArrayLike, inspected: ArrayLike) -> Interval:
    x, n = np.broadcast_arrays(np.asarray(rejected, float), np.asarray(inspected, float))
    if np.any(x < 0) or np.any(x > n):
        raise ValueError("rejected must lie between 0 and inspected, element by element")
    return x, np.where(n > 0, n, np.nan)


def _tail(confidence: float) -> float:
    if not 0 < confidence < 1:
        raise ValueError(f"confidence is {confidence}; expected a value between 0 and 1 such as 0.95")
    return (1 - confidence) / 2


def _normal_quantile(confidence: float) -> float:
    return float(-special.ndtri(_tail(confidence)))


def _known(values: Floats, inspected: Floats) -> Floats:
    known: Floats = np.where(np.isnan(inspected), np.nan, values)
    return known
