"""Control charts for measured values: means with ranges or standard deviations, and single values.

Subgroups come as a table, one row a subgroup in time order; NaN marks a missing value, and every row gets
the limits of its own number of values.  A row needs two values for its range.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitor.reckoning.statistics.chart_constants import ChartConstants, chart_constants

Floats = NDArray[np.float64]
Spread = Literal["range", "sd"]


@dataclass(frozen=True)
class Limits:
    """Plotted values with centre and limits, one entry a point."""

    value: Floats
    centre: Floats
    low: Floats
    high: Floats

    @property
    def outside(self) -> NDArray[np.bool_]:
        """Points beyond a limit; a missing point is not outside."""
        beyond: NDArray[np.bool_] = (self.value > self.high) | (self.value < self.low)
        return beyond


@dataclass(frozen=True)
class MeasuredChart:
    """A chart of location and one of spread, the standard deviation within subgroups, and the freedom behind it."""

    location: Limits
    spread: Limits
    sd_within: float
    freedom: float

    @property
    def stable(self) -> bool:
        """Whether no point of either chart lies beyond its limits."""
        return not (self.location.outside.any() or self.spread.outside.any())


def subgroup_chart(subgroups: ArrayLike, spread: Spread = "range") -> MeasuredChart:
    """Chart of means with ranges (x-bar and R) or with standard deviations (x-bar and s).

    `subgroups` [unit of the characteristic]: rows of 2 to 100 values, NaN where one is missing.
    Raises ValueError where no row has two values.  Source: ISO 7870-2:2013.
    """
    rows = np.atleast_2d(np.asarray(subgroups, float))
    size = np.sum(~np.isnan(rows), axis=1)
    rows, size = rows[size >= 2], size[size >= 2]
    if not size.size:
        raise ValueError("no subgroup has two values; expected at least one with two or more")
    constants = [chart_constants(int(n)) for n in size]
    seen = _ranges(rows) if spread == "range" else np.nanstd(rows, axis=1, ddof=1)
    unit, scatter, bands = (np.array(part) for part in zip(*(_of(c, spread) for c in constants), strict=True))
    sigma = float(np.mean(seen / unit))
    mean = float(np.nansum(rows) / size.sum())
    half = 3 * sigma / np.sqrt(size)
    location = Limits(np.nanmean(rows, axis=1), np.full(size.size, mean), mean - half, mean + half)
    centre = sigma * unit
    around = Limits(seen, centre, centre * bands[:, 0], centre * bands[:, 1])
    return MeasuredChart(location, around, sigma, _freedom(scatter / unit))


def individuals_chart(values: ArrayLike) -> MeasuredChart:
    """Chart of single values with moving ranges of two.

    `values` [unit of the characteristic] in time order, NaN ones left out.  Raises ValueError for fewer
    than two.
    Source: NIST/SEMATECH e-Handbook 6.3.2.2.
    """
    x = np.asarray(values, float).ravel()
    x = x[~np.isnan(x)]
    if x.size < 2:
        raise ValueError(f"{x.size} values; expected at least two for a moving range")
    moving = np.abs(np.diff(x))
    # Two neighbouring values make a moving range, a subgroup of two.
    pair = chart_constants(2)
    sigma = float(moving.mean() / pair.d2)
    centre = np.full(x.size, x.mean())
    location = Limits(x, centre, centre - 3 * sigma, centre + 3 * sigma)
    low, high = pair.range_limits
    middle = np.full(moving.size, moving.mean())
    return MeasuredChart(location, Limits(moving, middle, middle * low, middle * high), sigma, _moving_freedom(x.size))


def _of(constants: ChartConstants, spread: Spread) -> tuple[float, float, tuple[float, float]]:
    """Mean and scatter of the spread of one subgroup, and its limits in units of the mean."""
    if spread == "range":
        return constants.d2, constants.d3, constants.range_limits
    return constants.c4, constants.c5, constants.sd_limits


def _ranges(rows: Floats) -> Floats:
    width: Floats = np.nanmax(rows, axis=1) - np.nanmin(rows, axis=1)
    return width


def _freedom(relative_scatter: Floats) -> float:
    """Degrees of freedom of a standard deviation that scatters as much as the mean of these spreads."""
    relative_variance = float(np.sum(relative_scatter**2)) / relative_scatter.size**2
    return 1 / (2 * relative_variance)


def _moving_freedom(values: int) -> float:
    """Degrees of freedom of the mean moving range, whose neighbours share a value and are therefore correlated."""
    variance, mean_square = 2 - 4 / np.pi, 4 / np.pi
    shared = 4 / np.pi * (np.sqrt(0.75) + 0.5 * np.arcsin(0.5)) - mean_square
    ranges = values - 1
    relative_variance = (ranges * variance + 2 * (ranges - 1) * shared) / (ranges**2 * mean_square)
    return float(1 / (2 * relative_variance))
