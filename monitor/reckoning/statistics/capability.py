"""Process capability of one characteristic: Cp, Cpk, Pp, Ppk with intervals, and what has to hold for them.

Cp and Cpk use the spread within subgroups (what the process could do), Pp and Ppk that of all values (what
the customer got).  Both mean something only for a stable process with near-normal values; both notes are
given.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from monitor.reckoning.statistics import normality
from monitor.reckoning.statistics.measured_charts import MeasuredChart, Spread, individuals_chart, subgroup_chart

Floats = NDArray[np.float64]
Interval = tuple[float, float]
UNKNOWN: Interval = (np.nan, np.nan)


@dataclass(frozen=True)
class Index:
    """A capability index with its interval; NaN where a specification limit it needs is missing."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Capability:
    """Indices of one characteristic, the numbers behind them, and the notes on stability and normality.

    `normal` and `stable` are None where there are too few values to say.
    """

    n: int
    subgroups: int
    mean: float
    sd_within: float
    sd_overall: float
    cp: Index
    cpk: Index
    pp: Index
    ppk: Index
    stable: bool | None
    normal: bool | None


def capability(
    subgroups: ArrayLike,
    lower: float = np.nan,
    upper: float = np.nan,
    spread: Spread = "range",
    confidence: float = 0.95,
) -> Capability:
    """Capability of one part, characteristic, press and out.

    `subgroups` [unit of the characteristic]: one row a subgroup in time order, NaN where a value is missing;
    rows of one value are judged by moving ranges.  `lower`, `upper`: specification limits in the same unit,
    NaN where there is none.  Raises ValueError for fewer than two values or limits the wrong way round.
    """
    rows = np.asarray(subgroups, float)
    rows = rows[:, None] if rows.ndim == 1 else rows
    if lower >= upper:
        raise ValueError(f"lower limit {lower} is not below upper limit {upper}; expected lower < upper")
    chart = _chart(rows, spread)
    values = rows[~np.isnan(rows)]
    mean, overall = float(values.mean()), float(values.std(ddof=1))
    within, freedom = chart.sd_within, chart.freedom
    return Capability(
        n=values.size,
        subgroups=int(np.sum(~np.isnan(rows).all(axis=1))),
        mean=mean,
        sd_within=within,
        sd_overall=overall,
        cp=potential(lower, upper, within, freedom, confidence),
        cpk=achieved(lower, upper, mean=mean, sd=within, n=values.size, freedom=freedom, confidence=confidence),
        pp=potential(lower, upper, overall, values.size - 1, confidence),
        ppk=achieved(
            lower, upper, mean=mean, sd=overall, n=values.size, freedom=values.size - 1, confidence=confidence
        ),
        stable=chart.stable,
        normal=_looks_normal(values),
    )


def potential(lower: float, upper: float, sd: float, freedom: float, confidence: float = 0.95) -> Index:
    """Cp or Pp: width of the specification over six standard deviations.

    `lower`, `upper`, `sd` in one unit; `freedom` [1] degrees of freedom of `sd`.  NaN for a one-sided
    specification or no spread.  The interval is the chi-square interval of the standard deviation.
    """
    if np.isnan(upper - lower) or not sd > 0:
        return Index(np.nan, np.nan, np.nan)
    value = (upper - lower) / (6 * sd)
    tails = np.array([(1 - confidence) / 2, (1 + confidence) / 2])
    low, high = value * np.sqrt(2 * special.gammaincinv(freedom / 2, tails) / freedom)
    return Index(value, float(low), float(high))


def achieved(
    lower: float,
    upper: float,
    mean: float,
    sd: float,
    n: int,
    freedom: float,
    confidence: float = 0.95,
) -> Index:
    """Cpk or Ppk: distance from the mean to the nearer specification limit, in three standard deviations.

    `lower`, `upper`, `mean`, `sd` in one unit, a missing limit NaN; `n` values; `freedom` of `sd` (n - 1 for
    all values).  The interval is the normal approximation of Bissell (1990), Applied Statistics 39,
    331-340.
    """
    if (np.isnan(lower) and np.isnan(upper)) or not sd > 0:
        return Index(np.nan, np.nan, np.nan)
    value = float(np.nanmin([upper - mean, mean - lower]) / (3 * sd))
    half = special.ndtri((1 + confidence) / 2) * np.sqrt(1 / (9 * n) + value**2 / (2 * freedom))
    return Index(value, float(value - half), float(value + half))


def _chart(rows: Floats, spread: Spread) -> MeasuredChart:
    if np.all(np.sum(~np.isnan(rows), axis=1) < 2):
        return individuals_chart(rows)
    return subgroup_chart(rows, spread)


def _looks_normal(values: Floats) -> bool | None:
    """Shapiro-Wilk at 5 %; long series are thinned evenly, since with enough values no real process is normal."""
    if values.size < normality.LEAST or np.ptp(values) == 0:
        return None
    step = -(-values.size // normality.MOST)
    return normality.shapiro_wilk(values[::step])[1] >= 0.05
