"""A watch that adds up small signs: CUSUM and EWMA of counts, with a false-alarm rate that is worked out, not guessed.

The limits are chosen so that a process that has not changed sets off the watch once in a stated number of points on
average.  The run length comes from a Markov chain over a fine grid of the running sum (Brook and Evans, 1972).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize, special

Floats = NDArray[np.float64]
_RunLength = Callable[[float], float]

#: How many times the settled rate a watch is to find quickly, and after how many inspections of one die and cause it is
#: wrong once on average: on every screen the same watch.  Common practice, no source.
RATIO = 2.0
RUN_LENGTH = 500.0

_CELLS = 200


@dataclass(frozen=True)
class CusumChart:
    """The running value a point, its limit, and the points at which it signals.

    A watch that has signalled starts afresh after the signal.  `run_length` [points] is the mean time to a false
    alarm of an unchanged process, NaN where the limit was handed in.
    """

    value: Floats
    limit: float
    signals: NDArray[np.bool_]
    run_length: float


def cusum(
    rejected: ArrayLike,
    expected: ArrayLike,
    ratio: float = RATIO,
    run_length: float = RUN_LENGTH,
    limit: float | None = None,
) -> CusumChart:
    """Sum of the evidence that the rate has risen `ratio` times, never below 0.

    `rejected` [pieces] seen and `expected` [pieces] at the settled rate, one entry a point in time order; `ratio` [1]
    is the rise to be found quickly; `run_length` [points] between false alarms, worked out at the mean of `expected`
    unless its `limit` is known already.
    Raises ValueError for a ratio not above 1 or nothing expected.  Source: Lucas (1985), Technometrics 27, 129-144.
    """
    seen, mean = _points(rejected, expected)
    if not ratio > 1:
        raise ValueError(f"ratio is {ratio}; expected the rise to be found, above 1")
    steps = seen * np.log(ratio) - mean * (ratio - 1)
    false_after = np.nan
    if limit is None:
        limit = _limit(lambda h: cusum_run_length(float(mean.mean()), ratio, h), run_length, start=1.0)
        false_after = cusum_run_length(float(mean.mean()), ratio, limit)
    value, signals = _accumulate(steps, limit)
    return CusumChart(value, limit, signals, false_after)


def ewma(rejected: ArrayLike, expected: ArrayLike, weight: float = 0.2, run_length: float = 500.0) -> CusumChart:
    """Weighted mean of how many times the expected number was rejected, recent points counting most.

    Arguments as `cusum`; `weight` [1] of the newest point, 0 to 1.  The value is 1 at the settled rate, and only a
    rise signals.  Raises ValueError for a weight outside 0 to 1 or nothing expected.
    Source: Borror, Champ and Rigdon (1998), Journal of Quality Technology 30, 352-361.
    """
    seen, mean = _points(rejected, expected)
    if not 0 < weight <= 1:
        raise ValueError(f"weight is {weight}; expected a value above 0 and up to 1")
    typical = float(mean.mean())
    limit = _limit(lambda h: ewma_run_length(typical, weight, h), run_length, start=1.5)
    share = np.divide(seen, mean, out=np.ones_like(seen), where=mean > 0)
    value = np.empty_like(seen)
    signals = np.zeros(seen.size, bool)
    level = 1.0
    for point, now in enumerate(share):
        level = (1 - weight) * level + weight * float(now)
        value[point], signals[point] = level, level > limit
        level = 1.0 if signals[point] else level
    return CusumChart(value, limit, signals, ewma_run_length(typical, weight, limit))


def cusum_run_length(mean: float, ratio: float, limit: float, actual: float = 1.0) -> float:
    """Points until the CUSUM signals, on average, from a standing start.

    `mean` [pieces] expected at a point, `ratio` and `limit` as in `cusum`; `actual` [1] is how many times the expected
    rate the process really runs at.
    """
    cells = np.linspace(0.0, limit, _CELLS)
    half = cells[1] / 2
    edges = np.r_[-np.inf, cells[:-1] + half, limit]
    # The sum stays in a cell when the count lies below these bounds.
    bounds = (edges[None, :] - cells[:, None] + mean * (ratio - 1)) / np.log(ratio)
    return _first_passage(_between(bounds, mean * actual))


def ewma_run_length(mean: float, weight: float, limit: float, actual: float = 1.0) -> float:
    """Points until the EWMA signals, on average, from the settled level.

    `mean` [pieces] expected at a point, `weight` and `limit` as in `ewma`; `actual` as in `cusum_run_length`.
    """
    edges = np.linspace(0.0, limit, _CELLS + 1)
    middles = (edges[1:] + edges[:-1]) / 2
    bounds = (edges[None, :] - (1 - weight) * middles[:, None]) / weight * mean
    bounds[:, 0] = -np.inf
    start = int(np.clip(np.searchsorted(edges, 1.0) - 1, 0, _CELLS - 1))
    return _first_passage(_between(bounds, mean * actual), start)


def _between(bounds: Floats, mean: float) -> Floats:
    """Chance that a Poisson count lies above one bound and not above the next, along the last axis."""
    most = np.maximum(np.floor(bounds + 1e-9), -1.0).astype(np.int64)
    # The chances of few different counts are asked for again and again.
    low = int(most.min())
    below = special.pdtr(np.arange(low, int(most.max()) + 1), mean)[most - low]
    moves: Floats = np.diff(np.where(most < 0, 0.0, below), axis=-1)
    return moves


def _first_passage(moves: Floats, start: int = 0) -> float:
    """Mean number of moves until the grid is left; infinite where it never is within what numbers can tell."""
    try:
        length = float(np.linalg.solve(np.eye(moves.shape[0]) - moves, np.ones(moves.shape[0]))[start])
    except np.linalg.LinAlgError:
        return np.inf
    return length if length > 0 else np.inf


def _limit(length_at: _RunLength, run_length: float, start: float) -> float:
    """Smallest limit whose run length is not below the one asked for; counts are whole, so it may be above."""
    high = start
    while length_at(high) < run_length:
        high *= 1.5
    low = high / 1.5 if high > start else 1e-6
    if length_at(low) >= run_length:
        return low
    root = optimize.brentq(lambda h: length_at(h) - run_length, low, high, xtol=0.004)
    return float(root if length_at(root) >= run_length else root + 0.004)


def _accumulate(steps: Floats, limit: float) -> tuple[Floats, NDArray[np.bool_]]:
    value = np.empty_like(steps)
    signals = np.zeros(steps.size, bool)
    total = 0.0
    for point, step in enumerate(steps):
        total = max(0.0, total + float(step))
        value[point], signals[point] = total, total > limit
        total = 0.0 if signals[point] else total
    return value, signals


def _points(rejected: ArrayLike, expected: ArrayLike) -> tuple[Floats, Floats]:
    seen, mean = np.broadcast_arrays(np.asarray(rejected, float), np.asarray(expected, float))
    if np.any(mean < 0) or not mean.sum() > 0:
        raise ValueError("expected counts must not be negative, and some must be above 0")
    return seen.astype(float), mean.astype(float)
