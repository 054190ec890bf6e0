"""Control charts for counts: p, np, u, c, and Laney's p' and u' for data that scatter more than chance alone.

Every point gets its own exact limits from its own number of pieces; nothing is averaged over sample sizes.
A point lies outside when it is beyond a limit; a point on the limit is no signal.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

# Mean of |z(i) - z(i-1)| over two standard normal values, rounded as in the definition of the charts.
MOVING_RANGE_MEAN = 1.128


@dataclass(frozen=True)
class CountChart:
    """A chart of counts or rates: what was seen, where it is centred, and how far chance carries it.

    All arrays have one entry a point.  `sigma` is the standard deviation of the plotted value when nothing
    but chance acts; `low` and `high` are the limits, `low` cut at 0 and `high` at 1 for shares.
    """

    value: Floats
    centre: Floats
    sigma: Floats
    low: Floats
    high: Floats
    spread_factor: float = 1.0

    @property
    def outside(self) -> NDArray[np.bool_]:
        """Points beyond a limit; a point on the limit, or without pieces, is not outside."""
        beyond: NDArray[np.bool_] = (self.value > _nudge(self.high, 1)) | (self.value < _nudge(self.low, -1))
        return beyond

    @property
    def standardised(self) -> Floats:
        """Distance from the centre in standard deviations, for run rules; NaN without pieces."""
        z: Floats = (self.value - self.centre) / self.sigma
        return z


def p_chart(rejected: ArrayLike, inspected: ArrayLike, share: float | None = None, sigmas: float = 3.0) -> CountChart:
    """Chart of the share rejected with a limit for each sample size.

    `rejected`, `inspected` [pieces], one entry a point; `share` [1] is the centre of an earlier, settled
    period, otherwise total over total.  Raises ValueError for negative counts or more rejected than
    inspected.
    Source: ISO 7870-2:2013; NIST/SEMATECH e-Handbook 6.3.3.2.
    """
    x, n = _shares(rejected, inspected)
    centre = _ratio(x, n) if share is None else share
    return _chart(x / n, centre, _share_sigma(centre, n), sigmas, ceiling=1.0)


def np_chart(rejected: ArrayLike, inspected: ArrayLike, share: float | None = None, sigmas: float = 3.0) -> CountChart:
    """Chart of the number rejected; centre and limits move with the sample size.

    Arguments and errors as `p_chart`.  Source: ISO 7870-2:2013.
    """
    x, n = _shares(rejected, inspected)
    centre = _ratio(x, n) if share is None else share
    return _chart(x, centre * n, _share_sigma(centre, n) * n, sigmas)


def u_chart(faults: ArrayLike, units: ArrayLike, rate: float | None = None, sigmas: float = 3.0) -> CountChart:
    """Chart of faults per unit with a limit for each number of units.

    `faults` [count] and `units` [pieces, metres, hours ...], one entry a point; `rate` [1/unit] is the
    centre of an earlier period, otherwise total over total.  Raises ValueError for negative counts or
    units.
    Source: ISO 7870-2:2013.
    """
    x, n = _faults(faults, units)
    centre = _ratio(x, n) if rate is None else rate
    return _chart(x / n, centre, np.sqrt(centre / n), sigmas)


def c_chart(faults: ArrayLike, mean: float | None = None, sigmas: float = 3.0) -> CountChart:
    """Chart of faults in samples of one size.

    `faults` [count], one entry a point; `mean` is the centre of an earlier period.
    Raises ValueError for negative counts.  Source: NIST/SEMATECH e-Handbook 6.3.3.1.
    """
    return u_chart(faults, np.ones_like(np.asarray(faults, float)), mean, sigmas)


def laney_p_chart(
    rejected: ArrayLike, inspected: ArrayLike, share: float | None = None, sigmas: float = 3.0
) -> CountChart:
    """p' chart: limits widened by the scatter between neighbouring points, for overdispersed samples.

    Arguments and errors as `p_chart`.  `spread_factor` is the widening; below 1 it narrows.
    Source: Laney (2002), Quality Engineering 14, 531-537.
    """
    plain = p_chart(rejected, inspected, share, sigmas)
    return _widened(plain, sigmas, ceiling=1.0)


def laney_u_chart(faults: ArrayLike, units: ArrayLike, rate: float | None = None, sigmas: float = 3.0) -> CountChart:
    """u' chart: the u chart widened as `laney_p_chart`.

    Arguments and errors as `u_chart`.  Source: Laney (2002), Quality Engineering 14, 531-537.
    """
    return _widened(u_chart(faults, units, rate, sigmas), sigmas, ceiling=np.inf)


def _widened(plain: CountChart, sigmas: float, ceiling: float) -> CountChart:
    z = plain.standardised
    z = z[~np.isnan(z)]
    factor = float(np.mean(np.abs(np.diff(z))) / MOVING_RANGE_MEAN) if z.size > 1 else 1.0
    return _chart(
        plain.value, plain.centre, sigma=plain.sigma * factor, sigmas=sigmas, ceiling=ceiling, spread_factor=factor
    )


def _chart(
    value: Floats,
    centre: Floats | float,
    sigma: Floats,
    sigmas: float,
    ceiling: float = np.inf,
    spread_factor: float = 1.0,
) -> CountChart:
    middle: Floats = np.broadcast_to(np.asarray(centre, float), value.shape)
    low = np.maximum(middle - sigmas * sigma, 0.0)
    high = np.minimum(middle + sigmas * sigma, ceiling)
    return CountChart(value, middle, sigma=sigma, low=low, high=high, spread_factor=spread_factor)


def _nudge(limit: Floats, side: int) -> Floats:
    # A share of 12 / 80 and a limit worked out as 0.15 must not differ by rounding alone.
    moved: Floats = limit + side * 1e-12 * (1 + np.abs(limit))
    return moved


def _share_sigma(share: float, inspected: Floats) -> Floats:
    sigma: Floats = np.sqrt(share * (1 - share) / inspected)
    return sigma


def _ratio(part: Floats, whole: Floats) -> float:
    total = float(np.nansum(whole))
    return float(np.nansum(part)) / total if total > 0 else np.nan


def _shares(rejected: ArrayLike, inspected: ArrayLike) -> tuple[Floats, Floats]:
    x, n = np.broadcast_arrays(np.asarray(rejected, float), np.asarray(inspected, float))
    if np.any(x < 0) or np.any(x > n):
        raise ValueError("rejected must lie between 0 and inspected, point by point")
    return x, np.where(n > 0, n, np.nan)


def _faults(faults: ArrayLike, units: ArrayLike) -> tuple[Floats, Floats]:
    x, n = np.broadcast_arrays(np.asarray(faults, float), np.asarray(units, float))
    if np.any(x < 0) or np.any(n < 0):
        raise ValueError("faults and units must not be negative")
    return x, np.where(n > 0, n, np.nan)
