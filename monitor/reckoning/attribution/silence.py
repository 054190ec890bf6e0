"""What can be said of factors of which nothing stands out: ruled out, or not enough looked at."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from monitor.reckoning.attribution.lines import sides
from monitor.reckoning.attribution.score import Scan, excess
from monitor.reckoning.attribution.stepwise import Rejects, Selection
from shared.factors import Level

Floats = NDArray[np.float64]

# A factor is clear when a level at this many times the rate would have been found; common practice, no source.
CLEAR_RATIO = 3.0
# Chance of finding it that this asks for.
POWER = 0.8
# Fewer rejects than this tell nothing about any factor; common practice, no source.
LEAST_REJECTS = 5


@dataclass(frozen=True)
class Silent:
    """A factor without a line: the level with the most excess, and the smallest ratio that would have shown.

    `ratio` (value, low, high) is observed over expected rejects in the bad rows, over the same in the compared rows;
    NaN where there are none.
    """

    factor: str
    level: Level
    bad: NDArray[np.bool_]
    ratio: tuple[float, float, float]
    corrected: float
    would_show: float

    @property
    def clear(self) -> bool:
        """Whether an effect worth acting on would have been found."""
        return self.would_show <= CLEAR_RATIO


def silent(rejects: Rejects, state: Selection, seen: Scan, spoken: set[str], alpha: float) -> Iterator[Silent]:
    """Factors, as they are named in the answer, that are not among `spoken`: each with its strongest question."""
    candidates = rejects.candidates
    place, z = candidates.of_question, seen.z
    strength = np.where(seen.told, seen.own / np.sqrt(np.where(seen.told, seen.whole, 1.0)), 0.0)[place]
    looks = candidates.looks
    shows = _would_show(strength, looks, alpha)
    factors = candidates.factors
    weight = candidates.dot(state.fit.expected)[place]
    few = rejects.rejected.sum() < LEAST_REJECTS
    for factor in dict.fromkeys(factors):
        if factor in spoken:
            continue
        mine = np.flatnonzero(factors == factor)
        best = int(mine[np.argmin(special.ndtr(-z[mine]) * looks[mine])])
        bad, compared = sides(candidates.column(best)[:, None], rejects.context.inspected)
        spread = float(seen.whole[place[best]] / max(seen.own[place[best]], 1e-300))
        yield Silent(
            factor=str(factor),
            level=candidates.questions[best].level,
            bad=bad,
            ratio=_ratio(rejects, state, bad, compared, max(spread, 1.0)),
            corrected=_corrected(rejects, state, best, float(special.ndtr(-z[best])) * float(looks[best])),
            would_show=np.inf if few else _typical(shows[mine], weight[mine]),
        )


def _corrected(rejects: Rejects, state: Selection, question: int, rough: float) -> float:
    """Corrected chance of the excess; looked at closely only where a normal curve does not settle it."""
    if rough > 0.5:
        return min(1.0, rough)
    column = rejects.candidates.column(question)
    inspected = rejects.context.inspected
    close = excess(
        column,
        state.fit,
        rejected=rejects.rejected,
        dispersion=state.dispersion,
        groupings=rejects.groupings,
        inspected=inspected,
    )
    return min(1.0, close.p * rejects.candidates.questions[question].looks)


def _would_show(strength: Floats, looks: Floats, alpha: float) -> Floats:
    """Ratio r at which the excess (r - 1) x strength passes its limit with the asked-for chance.

    The scatter of the excess grows with the square root of r, so r is the square of the root of a quadratic.
    """
    limit = -special.ndtri(np.minimum(alpha / looks, 0.5))
    sure = special.ndtri(POWER)
    known = np.maximum(strength, 1e-6)
    root = (sure + np.sqrt(sure**2 + 4 * known * (known + limit))) / (2 * known)
    shows: Floats = np.where(strength > 0, root**2, np.inf)
    return shows


def _typical(shows: Floats, weight: Floats) -> float:
    """Middle of the levels of a factor, each counting by the rejects expected in it."""
    order = np.argsort(shows)
    reached = np.cumsum(weight[order])
    return float(shows[order][np.searchsorted(reached, reached[-1] / 2)]) if reached[-1] > 0 else np.inf


def _ratio(
    rejects: Rejects, state: Selection, bad: NDArray[np.bool_], compared: NDArray[np.bool_], spread: float
) -> tuple[float, float, float]:
    """Observed over expected in the bad rows, over the same in the compared; half a reject is added to each."""
    seen, expected = rejects.rejected, state.fit.expected
    over, under = seen[bad].sum() + 0.5, seen[compared].sum() + 0.5
    value = over / (expected[bad].sum() + 0.5) * (expected[compared].sum() + 0.5) / under
    half = special.ndtri(0.975) * np.sqrt(spread * (1 / over + 1 / under))
    return float(value), float(value * np.exp(-half)), float(value * np.exp(half))
