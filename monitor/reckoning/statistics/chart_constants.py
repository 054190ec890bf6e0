"""Constants of control charts for measured values, integrated rather than read off a table.

All are for samples of `n` independent normal values with standard deviation 1.  Tables print the same
numbers to three places: ISO 7870-2:2013 Table 2.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy import special

_LARGEST_SUBGROUP = 100


@dataclass(frozen=True)
class ChartConstants:
    """Means and standard deviations of the range (d2, d3) and of the sample standard deviation (c4, c5) of n values.

    Limits three standard deviations wide follow from them: A2, A3 for means; D3, D4 for ranges; B3, B4 for s.
    """

    n: int
    d2: float
    d3: float
    c4: float

    @property
    def c5(self) -> float:
        """Standard deviation of s."""
        return float(np.sqrt(1 - self.c4**2))

    @property
    def a2(self) -> float:
        """Half width of the limits of a mean, in mean ranges."""
        return float(3 / (self.d2 * np.sqrt(self.n)))

    @property
    def a3(self) -> float:
        """Half width of the limits of a mean, in mean standard deviations."""
        return float(3 / (self.c4 * np.sqrt(self.n)))

    @property
    def range_limits(self) -> tuple[float, float]:
        """D3 and D4: limits of a range, in mean ranges."""
        return _around_one(self.d3 / self.d2)

    @property
    def sd_limits(self) -> tuple[float, float]:
        """B3 and B4: limits of a standard deviation, in mean standard deviations."""
        return _around_one(self.c5 / self.c4)


@cache
def chart_constants(n: int) -> ChartConstants:
    """Constants for subgroups of `n` values, 2 to 100.

    Raises ValueError outside that range.
    """
    if not 2 <= n <= _LARGEST_SUBGROUP:
        raise ValueError(f"a subgroup has {n} values; expected 2 to {_LARGEST_SUBGROUP}")
    d2, square = _range_moments(n)
    c4 = np.sqrt(2 / (n - 1)) * np.exp(special.gammaln(n / 2) - special.gammaln((n - 1) / 2))
    return ChartConstants(n, d2, float(np.sqrt(square - d2**2)), float(c4))


def _range_moments(n: int) -> tuple[float, float]:
    """Mean and mean square of the range, from its distribution function on a fine grid."""
    x = np.linspace(-9.0, 9.0, 1801)
    width = np.linspace(0.0, 14.0, 1401)
    below = special.ndtr(x)
    density = np.exp(-(x**2) / 2) / np.sqrt(2 * np.pi)
    inside = special.ndtr(x + width[:, None]) - below
    beyond = 1 - (n * density * inside ** (n - 1)) @ _simpson(x)
    weights = _simpson(width)
    return float(beyond @ weights), float(2 * width * beyond @ weights)


def _simpson(x: NDArray[np.float64]) -> NDArray[np.float64]:
    """Weights of Simpson's rule on an odd number of points; scipy.integrate would take longer to load than to use."""
    weights = np.full(x.size, 2.0)
    weights[1::2] = 4.0
    weights[[0, -1]] = 1.0
    weights *= (x[1] - x[0]) / 3
    return weights


def _around_one(share: float) -> tuple[float, float]:
    return max(0.0, 1 - 3 * share), 1 + 3 * share
