"""When did it change?  One change of level in a series of counts or measured values, with an interval.

Each possible place is compared by its likelihood ratio against no change; the interval holds the places that the data
make credible, each place being as likely as another beforehand.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

Floats = NDArray[np.float64]
_Gain = Callable[[Floats, Floats], Floats]


@dataclass(frozen=True)
class ChangePoint:
    """The last point of the old level (counted from 1), its interval, both levels, and the evidence.

    `likelihood_ratio` is twice the gain in log-likelihood at the change; `ratios` has it for every place 1 ... n - 1.
    `false_alarm` [1] is the chance of as large a maximum when nothing changed.
    """

    last_before: int
    earliest: int
    latest: int
    before: float
    after: float
    likelihood_ratio: float
    false_alarm: float
    ratios: Floats


def binomial_change(
    rejected: ArrayLike, inspected: ArrayLike, confidence: float = 0.95, dispersion: float = 1.0
) -> ChangePoint:
    """Change of the share rejected.

    `rejected`, `inspected` [pieces] in time order; `dispersion` [1], 1 or more, says how many times the variance is
    that of chance alone.  Levels are shares [1].  Raises ValueError for fewer than two points, no pieces or counts
    that cannot be.
    """
    x, n = np.broadcast_arrays(np.asarray(rejected, float), np.asarray(inspected, float))
    if np.any(x < 0) or np.any(x > n):
        raise ValueError("rejected must lie between 0 and inspected, point by point")
    return _change(x, n, lambda bad, all_: _xlogx(bad) + _xlogx(all_ - bad) - _xlogx(all_), confidence, dispersion)


def poisson_change(
    events: ArrayLike, exposure: ArrayLike = 1.0, confidence: float = 0.95, dispersion: float = 1.0
) -> ChangePoint:
    """Change of the rate of events.

    `events` [count] in time order over `exposure` [any unit]; `dispersion` as `binomial_change`.  Levels are rates
    [1/unit].  Raises ValueError for fewer than two points or negative numbers.
    """
    x, n = np.broadcast_arrays(np.asarray(events, float), np.asarray(exposure, float))
    if np.any(x < 0) or np.any(n < 0):
        raise ValueError("events and exposure must not be negative")
    return _change(x, n, lambda count, units: _xlogx(count) - count * np.log(units), confidence, dispersion)


def level_change(values: ArrayLike, confidence: float = 0.95) -> ChangePoint:
    """Change of the mean of measured values with one scatter before and after.

    `values` [any unit] in time order.  Levels are means.  Raises ValueError for fewer than four points.
    """
    x = np.asarray(values, float)
    if x.size < 4:
        raise ValueError(f"{x.size} values; expected at least four to tell a change from scatter")
    places = np.arange(1, x.size)
    head = np.cumsum(x)[:-1]
    mean_before, mean_after = head / places, (x.sum() - head) / (x.size - places)
    total = float(np.sum((x - x.mean()) ** 2))
    between = places * (mean_before - x.mean()) ** 2 + (x.size - places) * (mean_after - x.mean()) ** 2
    ratios = -x.size * np.log(np.maximum(total - between, 1e-12 * total) / total) if total > 0 else 0.0 * head
    return _summary(ratios, mean_before, mean_after, confidence)


def _change(x: Floats, n: Floats, gain: _Gain, confidence: float, dispersion: float) -> ChangePoint:
    if x.size < 2 or not n.sum() > 0:
        raise ValueError("expected at least two points and something to look at")
    head_x, head_n = np.cumsum(x)[:-1], np.cumsum(n)[:-1]
    tail_x, tail_n = x.sum() - head_x, n.sum() - head_n
    with np.errstate(divide="ignore", invalid="ignore"):
        split = np.where(head_n * tail_n > 0, gain(head_x, head_n) + gain(tail_x, tail_n), -np.inf)
        before, after = head_x / head_n, tail_x / tail_n
    whole = gain(np.array([x.sum()]), np.array([n.sum()]))[0]
    ratios = np.maximum(2 * (split - whole) / max(dispersion, 1.0), 0.0)
    return _summary(ratios, before, after, confidence)


def _summary(ratios: Floats, before: Floats, after: Floats, confidence: float) -> ChangePoint:
    best = int(np.argmax(ratios))
    weight = np.exp((ratios - ratios[best]) / 2)
    order = np.argsort(-weight, kind="stable")
    enough = np.searchsorted(np.cumsum(weight[order]) / weight.sum(), confidence) + 1
    held = order[:enough]
    return ChangePoint(
        last_before=best + 1,
        earliest=int(held.min()) + 1,
        latest=int(held.max()) + 1,
        before=float(before[best]),
        after=float(after[best]),
        likelihood_ratio=float(ratios[best]),
        false_alarm=_chance_of_maximum(float(ratios[best]), ratios.size),
        ratios=ratios,
    )


def _chance_of_maximum(ratio: float, places: int) -> float:
    """Chance that the largest of the ratios passes `ratio` when nothing changed.

    Tail of the largest squared standardised Brownian bridge between the first and the last place; 1 where the formula
    does not hold (ratio below 2).  Source: Miller and Siegmund (1982), Biometrics 38, 1011-1016.
    """
    if ratio < 2:
        return 1.0
    root = np.sqrt(ratio)
    edge = 1 / (places + 1)
    density = np.exp(-ratio / 2) / np.sqrt(2 * np.pi)
    chance = density * (root - 1 / root) * 2 * np.log((1 - edge) / edge) + 4 * density / root
    return float(min(1.0, chance))


def _xlogx(x: Floats) -> Floats:
    return np.asarray(special.xlogy(x, x), float)
