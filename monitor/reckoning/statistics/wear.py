"""Die wear: scrap rate against strokes since sharpening, and when the next sharpening pays.

The first strokes after a sharpening are kept apart, since a fresh edge can be the bad one; after them the rate is
taken to rise with wear or stay (isotonic).  Costs are counted in pieces: what a sharpening costs is given as the
number of rejected pieces it is worth, so that no money appears.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitor.reckoning.statistics.intervals import wilson

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Strokes after a sharpening that are shown apart; common practice, no source.
FRESH_STROKES = 3000
_BINS = 12
_DRAWS = 400
_GRID = 2000


@dataclass(frozen=True)
class WearTable:
    """Rejects by strokes since sharpening: bins [from, to) and in each the pieces, the rate and its interval.

    `spread` [1] is how many times the variance is that of chance alone; the intervals allow for it.  Rates are NaN
    where nothing was inspected.
    """

    strokes_from: Ints
    strokes_to: Ints
    inspected: Ints
    rejected: Ints
    rate: Floats
    rate_low: Floats
    rate_high: Floats
    spread: float


def wear_table(strokes: ArrayLike, inspected: ArrayLike, rejected: ArrayLike, confidence: float = 0.95) -> WearTable:
    """Count rejects in bins of strokes since sharpening: the first strokes apart, then about twelve round widths.

    `strokes` since sharpening (NaN = not known, left out), `inspected`, `rejected` [pieces], one entry a row.
    Raises ValueError for rejects below 0 or above the pieces inspected.
    """
    at, n, x = (np.asarray(part, float) for part in (strokes, inspected, rejected))
    if np.any(x < 0) or np.any(x > n):
        raise ValueError("rejected must lie between 0 and inspected, row by row")
    known = ~np.isnan(at)
    at, n, x = at[known], n[known], x[known]
    edges = _edges(float(at.max()) if at.size else 0.0)
    place = np.searchsorted(edges, at, side="right") - 1
    pieces, bad = np.bincount(place, n, edges.size - 1), np.bincount(place, x, edges.size - 1)
    rate = np.divide(bad, pieces, out=np.full(pieces.shape, np.nan), where=pieces > 0)
    spread = _spread(x, n, rate[place])
    low, high = wilson(bad / spread, pieces / spread, confidence)
    start, end, looked, found = (part.astype(np.int64) for part in (edges[:-1], edges[1:], pieces, bad))
    return WearTable(
        start, end, inspected=looked, rejected=found, rate=rate, rate_low=low, rate_high=high, spread=spread
    )


@dataclass(frozen=True)
class EconomicInterval:
    """Strokes between sharpenings at which the cost a stroke is least, and its interval; NaN where none is reached."""

    strokes: float
    low: float
    high: float


def economic_interval(
    table: WearTable, sharpening_pieces: float, pieces_per_stroke: float = 1.0, confidence: float = 0.95, seed: int = 0
) -> EconomicInterval:
    """Strokes at which one more stroke costs more scrap than the mean cost of a stroke (renewal reward).

    `sharpening_pieces` [rejected pieces] is what a sharpening costs, lost press time and grind life included;
    `pieces_per_stroke` [pieces].  NaN when the rate does not rise enough within the strokes that were seen: nothing is
    said beyond them.  The interval comes from rates drawn as the counts allow, the same for the same `seed`; an end
    is NaN when that share of the draws reaches no limit.  Raises ValueError for a cost not above 0.
    Source: Barlow and Proschan (1965), Mathematical Theory of Reliability, chapter 4.
    """
    if not sharpening_pieces > 0 or not pieces_per_stroke > 0:
        raise ValueError("sharpening_pieces and pieces_per_stroke must be above 0")
    seen = table.inspected > 0
    if seen.sum() < 3 or not table.rejected.sum() > 0:
        return EconomicInterval(np.nan, np.nan, np.nan)
    middle = (table.strokes_from + table.strokes_to)[seen] / 2
    weight, bad = table.inspected[seen] / table.spread, table.rejected[seen] / table.spread
    ratio = sharpening_pieces / pieces_per_stroke
    best = _least_cost(middle, bad / weight, weight, ratio, float(table.strokes_to.max()))
    rng = np.random.default_rng(seed)
    rates = rng.gamma(bad + 0.5, 1 / weight, (_DRAWS, weight.size))
    drawn = [_least_cost(middle, rate, weight, ratio, float(table.strokes_to.max())) for rate in rates]
    ends = np.quantile(drawn, [(1 - confidence) / 2, (1 + confidence) / 2], method="nearest")
    low, high = np.where(np.isfinite(ends), ends, np.nan)
    return EconomicInterval(best if np.isfinite(best) else np.nan, float(low), float(high))


def due_in_s(strokes_since: float, interval_strokes: float, strokes_lately: float, seconds_lately: float) -> float:
    """Seconds until the strokes since sharpening reach the interval at the present rate; 0 when they have.

    `strokes_lately` made in `seconds_lately` of clock time (stops taken in) give the rate.  NaN where the strokes or
    the interval are not known or the press does not run.
    """
    if np.isnan(strokes_since) or np.isnan(interval_strokes):
        return np.nan
    if strokes_since >= interval_strokes:
        return 0.0
    if not strokes_lately > 0 or not seconds_lately > 0:
        return np.nan
    return (interval_strokes - strokes_since) * seconds_lately / strokes_lately


def _edges(most: float) -> Floats:
    """Round edges from 0 beyond the most strokes, the first strokes apart."""
    width = _round_up(max(most, FRESH_STROKES) / _BINS)
    edges = np.arange(0, most + 2 * width, width)
    edges = edges[: int(np.searchsorted(edges, most, side="right")) + 1]
    return np.unique(np.r_[0.0, FRESH_STROKES, edges])


def _round_up(width: float) -> float:
    """The next of 1, 2 or 5 times a power of ten."""
    unit = 10.0 ** np.floor(np.log10(width))
    return float(next(step * unit for step in (1, 2, 5, 10) if step * unit >= width * (1 - 1e-9)))


def _spread(rejected: Floats, inspected: Floats, rate: Floats) -> float:
    """Pearson's dispersion of rows around the rate of their bin, 1 or more."""
    expected = inspected * rate
    chance = expected * (1 - rate)
    used = chance > 0
    freedom = int(used.sum()) - np.unique(rate[used]).size
    if freedom < 1:
        return 1.0
    return max(1.0, float(np.sum((rejected - expected)[used] ** 2 / chance[used]) / freedom))


def _least_cost(middle: Floats, rate: Floats, weight: Floats, sharpening: float, most: float) -> float:
    """Strokes at which (sharpening + scrap so far) / strokes is least; infinite when it still falls at the end."""
    # Loading scipy.optimize takes a quarter of a second, which the verdict need not wait for.
    from scipy import optimize

    rising = rate.copy()
    rising[1:] = optimize.isotonic_regression(rate[1:], weights=weight[1:]).x
    at = np.linspace(0, most, _GRID + 1)[1:]
    scrap = np.cumsum(np.interp(at, middle, rising)) * (at[1] - at[0])
    cost = (sharpening + scrap) / at
    least = int(np.argmin(cost))
    return float(at[least]) if least < _GRID - 1 else np.inf
