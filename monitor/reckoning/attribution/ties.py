"""Can the data tell two explanations apart?  One lot that ran only on a dull die can be the lot or the edge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy import special

from monitor.reckoning.attribution.lines import VerdictLine, line
from monitor.reckoning.attribution.score import Excess, excess, overlap
from monitor.reckoning.attribution.stepwise import Rejects, Selection, try_term

Floats = NDArray[np.float64]

# A line stands alone only when it still shows, at this one-sided level, with the other explanation held still.
STILL_SHOWS = 0.005
# A rival has to account for the excess by itself, at this one-sided level.
CONVINCING = 0.001
# ... unless the data are so many times likelier with it than with the other.
CLEARLY_LIKELIER = 10.0
# Looked at closely: candidates whose excess overlaps with that of the line (correlation), and is this large.
_OVERLAP = 0.4
_WORTH_A_LOOK = 2.5
_TRIED = 3


def rivals(rejects: Rejects, state: Selection, mine: VerdictLine) -> list[VerdictLine]:
    """Explanations from another side that account for what `mine` does, so that neither stands without the other.

    Best first; at most one a factor.  Names of the same delivery are never rivals of each other.
    """
    others = tuple(term for term in state.terms if term not in mine.terms)
    candidates = rejects.candidates
    for rows in (mine.bad, _where_it_acts(rejects, state, mine)):
        candidates = candidates.with_steps_around(rows, rejects.context.inspected)
    wider = replace(rejects, candidates=candidates)
    without = Selection(others, wider.fit(others, state.dispersion), state.dispersion)
    found: dict[str, VerdictLine] = {}
    for term in _likely(wider, without, mine):
        factor = candidates.questions[term].factor
        rival = _rival(wider, without, state, mine, term)
        if rival is not None and (factor not in found or rival.excess.p < found[factor].excess.p):
            found[factor] = rival
    return sorted(found.values(), key=lambda rival: rival.excess.p)


def _where_it_acts(rejects: Rejects, state: Selection, mine: VerdictLine) -> NDArray[np.bool_]:
    """Rows with more than half of the effect of the line; all curves that tell of it taken together."""
    effect = sum(
        state.fit.coefficients[1 + state.terms.index(term)] * rejects.candidates.column(term) for term in mine.terms
    )
    rows: NDArray[np.bool_] = effect > (np.max(effect) + np.min(effect)) / 2
    return rows


def _likely(rejects: Rejects, without: Selection, mine: VerdictLine) -> list[int]:
    """Candidates of other factors that overlap with the line, most excess first; few of each factor."""
    candidates = rejects.candidates
    seen = rejects.scan(without)
    z = seen.z
    column = candidates.column(mine.terms[0])
    shared = overlap(
        candidates, column, fit=without.fit, dispersion=without.dispersion, groupings=rejects.groupings, seen=seen
    )
    other = np.array([question.factor != mine.factor for question in candidates.questions])
    likely = other & (shared > _OVERLAP) & (z > _WORTH_A_LOOK)
    order = np.argsort(np.where(likely, -z, np.inf))
    picked: list[int] = []
    tried: dict[str, int] = {}
    for term in order[: int(likely.sum())]:
        factor = candidates.questions[term].factor
        tried[factor] = tried.get(factor, 0) + 1
        if tried[factor] <= _TRIED:
            picked.append(int(term))
    return picked


def _rival(rejects: Rejects, without: Selection, state: Selection, mine: VerdictLine, term: int) -> VerdictLine | None:
    step = try_term(rejects, without, term)
    if step.excess.p > CONVINCING:
        return None
    left = excess(
        rejects.candidates.column(mine.terms[0]),
        step.state.fit,
        rejected=rejects.rejected,
        dispersion=state.dispersion,
        groupings=rejects.groupings,
        inspected=rejects.context.inspected,
    )
    if left.p <= STILL_SHOWS or _times_likelier(left, _beside(rejects, state, term)) > CLEARLY_LIKELIER:
        return None
    return line(rejects, step.state, (term,), step.excess, step.corrected)


def _beside(rejects: Rejects, state: Selection, rival: int) -> Excess:
    """Excess of a rival with the line held still."""
    column = rejects.candidates.column(rival)
    return excess(
        column,
        state.fit,
        rejected=rejects.rejected,
        dispersion=state.dispersion,
        groupings=rejects.groupings,
        inspected=rejects.context.inspected,
    )


def _times_likelier(mine: Excess, rival: Excess) -> float:
    """How many times likelier the data are with one line than with its rival, each judged with the other held still.

    An excess of z adds z²/2 to the log likelihood; both start from the same fit with the two acting.
    """
    mine_z, rival_z = (max(-special.ndtri(max(one.p, 1e-300)), 0.0) for one in (mine, rival))
    return float(np.exp(min((mine_z**2 - rival_z**2) / 2, 700.0)))
