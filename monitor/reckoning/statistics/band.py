"""The band in which a count of rejects usually lies, from what earlier shifts found."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

#: Earlier shifts with inspections below which there is no band; common practice, no source.
LEAST_SHIFTS = 8


@dataclass(frozen=True)
class Band:
    """The usual rate [1] and the counts [pieces] between which 95 of 100 shifts lie."""

    rate: float
    low: int
    high: int


def usual_band(rejected: ArrayLike, inspected: ArrayLike, now_inspected: float) -> Band | None:
    """Return the band for a shift that inspects `now_inspected` pieces, from the counts of earlier shifts.

    A prediction interval for a count: the width is that of a Poisson count and of how little the rate of all earlier
    shifts together is known (a gamma distribution with half a reject more), widened by as much as these scattered more
    than that.  None where fewer than `LEAST_SHIFTS` of them inspected anything.
    Source: Bayesian prediction with the prior of Jeffreys, from memory.
    """
    found, looked = np.asarray(rejected, float), np.asarray(inspected, float)
    found, looked = found[looked > 0], looked[looked > 0]
    if looked.size < LEAST_SHIFTS or not now_inspected > 0:
        return None
    # Loading scipy.stats takes most of a second, which nobody need wait for who asks for no band.
    from scipy import stats

    rate = float(found.sum() / looked.sum())
    expected = looked * rate
    scatter = float(np.sum((found - expected) ** 2 / np.maximum(expected, 1e-12)) / (looked.size - 1)) if rate else 1.0
    wider = max(1.0, scatter)
    known, share = float(found.sum()) / wider + 0.5, float(looked.sum() / (looked.sum() + now_inspected))
    low, high = (float(stats.nbinom.ppf(part, known, share)) * wider for part in (0.025, 0.975))
    return Band(rate, math.floor(max(0.0, low)), math.ceil(high))
