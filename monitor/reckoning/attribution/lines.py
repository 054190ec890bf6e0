"""What an effect amounts to: how many times the rate, and how many pieces, with intervals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from monitor.reckoning.attribution.columns import named
from monitor.reckoning.attribution.score import Excess
from monitor.reckoning.attribution.stepwise import Rejects, Selection
from shared.factors import Explanation, Level

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_END = 0.2


@dataclass(frozen=True)
class VerdictLine:
    """One trouble: the candidate that names it, where it is bad and what that is compared with.

    `ratio` is the mean rate in the bad rows over that in the compared rows, all else held still; `explained` the
    rejects beyond what there would be if all rows ran like the compared ones; both as (value, low, high).
    `aliases` are other names of the very same rows.
    """

    factor: str
    levels: tuple[Level, ...]
    terms: tuple[int, ...]
    excess: Excess
    corrected: float
    bad: Flags
    compared: Flags
    ratio: tuple[float, float, float]
    explained: tuple[float, float, float]
    aliases: tuple[Explanation, ...]

    @property
    def explanation(self) -> Explanation:
        """Factor, as it is named in the answer, and levels."""
        return Explanation(named(self.factor), self.levels)


def troubles(rejects: Rejects, terms: tuple[int, ...]) -> list[tuple[int, ...]]:
    """Terms that tell one trouble together, in the order in which they were found."""
    found: dict[tuple[str, str | Level], tuple[int, ...]] = {}
    for term in terms:
        key = rejects.trouble(term)
        found[key] = (*found.get(key, ()), term)
    return list(found.values())


def line(rejects: Rejects, state: Selection, terms: tuple[int, ...], excess: Excess, corrected: float) -> VerdictLine:
    """Work out ratio and pieces of some terms of a state; the first of them names the line."""
    candidates, inspected = rejects.candidates, rejects.context.inspected
    columns = np.column_stack([candidates.column(term) for term in terms])
    places = [1 + state.terms.index(term) for term in terms]
    beta = state.fit.coefficients[places]
    bad, compared = sides(columns, inspected)
    log_ratio, slope = _log_ratio(columns, beta, inspected, bad, compared)
    scatter = float(slope @ _scatter(rejects, state)[np.ix_(places, places)] @ slope)
    half = float(np.sqrt(max(scatter, 0.0))) * float(special.stdtrit(np.clip(excess.freedom, 3.0, 1e6), 0.975))
    log_ratio = log_ratio or 1e-12
    ends = (log_ratio, log_ratio - half, log_ratio + half)
    ratio = np.exp(ends)
    value, low, high = (_explained(columns, beta * end / log_ratio, state, inspected, compared) for end in ends)
    return VerdictLine(
        factor=candidates.questions[terms[0]].factor,
        levels=tuple(candidates.questions[term].level for term in terms),
        terms=terms,
        excess=excess,
        corrected=corrected,
        bad=bad,
        compared=compared,
        ratio=(float(ratio[0]), float(ratio[1]), float(ratio[2])),
        explained=(value, low, high),
        aliases=candidates.aliases.get(candidates.questions[terms[0]].column, ()),
    )


def sides(columns: Floats, inspected: Floats) -> tuple[Flags, Flags]:
    """Rows of a step and rows outside it; for a slope the fifth of the pieces at either end."""
    leading = columns[:, 0]
    if np.all((leading == 0) | (leading == 1) | (leading == _middle(leading))):
        return leading == 1, leading == 0
    order = np.argsort(leading, kind="stable")
    reached = np.cumsum(inspected[order]) / inspected.sum()
    ends = np.minimum(np.searchsorted(reached, [_END, 1 - _END]), order.size - 1)
    low, high = leading[order][ends]
    return leading >= high, leading <= low


def _middle(column: Floats) -> float:
    """The filled-in value of a step's rows that are not known, or 0."""
    between = column[(column > 0) & (column < 1)]
    return float(between[0]) if between.size and np.ptp(between) == 0 else 0.0


def _log_ratio(columns: Floats, beta: Floats, inspected: Floats, bad: Flags, compared: Flags) -> tuple[float, Floats]:
    """Log of the ratio of the mean multipliers, and its slope over the coefficients."""
    multiplier = inspected * np.exp(columns @ beta)
    over, under = multiplier[bad], multiplier[compared]
    value = np.log(over.sum() / inspected[bad].sum()) - np.log(under.sum() / inspected[compared].sum())
    slope = over @ columns[bad] / over.sum() - under @ columns[compared] / under.sum()
    return float(value), slope


def _scatter(rejects: Rejects, state: Selection) -> Floats:
    """Variance of the coefficients, alike rows counted as alike."""
    fit = state.fit
    pulled = fit.design * (fit.weight * fit.expected)[:, None]
    shared = np.zeros_like(fit.cover)
    for share, group in zip(state.dispersion.groups, rejects.groupings, strict=False):
        sums = group.adder @ pulled
        shared += share * (sums.T @ sums)
    scatter: Floats = fit.cover + fit.cover @ shared @ fit.cover
    return scatter


def _explained(columns: Floats, beta: Floats, state: Selection, inspected: Floats, compared: Flags) -> float:
    multiplier = np.exp(columns @ beta)
    reference = float(np.average(multiplier[compared], weights=inspected[compared]))
    return float(np.sum(state.fit.expected * (1 - reference / multiplier)))
