"""Can the data tell two explanations apart?  One lot that ran only on a dull die can be the lot or the edge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from monitor.reckoning.attribution.lines import Line, line
from monitor.reckoning.attribution.score import excess, overlap
from monitor.reckoning.attribution.stepwise import Rejects, State, try_term

Floats = NDArray[np.float64]

# A line stands alone only when it still shows, at this one-sided level, with the other explanation held still.
STILL_SHOWS = 0.005
# A rival has to account for the excess by itself, at this one-sided level.
CONVINCING = 0.001
_TRIED = 4


def rivals(rejects: Rejects, state: State, mine: Line) -> list[Line]:
    """Explanations from another side that account for what `mine` does, so that neither stands without the other.

    Best first; at most one a factor.  Names of the same delivery are never rivals of each other.
    """
    others = tuple(term for term in state.terms if term not in mine.terms)
    candidates = rejects.candidates.with_steps_around(mine.bad, rejects.context.inspected)
    wider = replace(rejects, candidates=candidates)
    without = State(others, wider.fit(others, state.dispersion), state.dispersion)
    found: dict[str, Line] = {}
    for term in _likely(wider, without, mine):
        factor = candidates.questions[term].factor
        rival = _rival(wider, without, state, mine, term)
        if rival is not None and (factor not in found or rival.excess.p < found[factor].excess.p):
            found[factor] = rival
    return sorted(found.values(), key=lambda rival: rival.excess.p)


def _likely(rejects: Rejects, without: State, mine: Line) -> list[int]:
    """Candidates that overlap with the line so much that it might not show beside them, most excess first."""
    candidates = rejects.candidates
    seen = rejects.scan(without)
    z = seen.z
    column = candidates.column(mine.terms[0])
    shared = np.clip(
        overlap(candidates, column, without.fit, without.dispersion, rejects.adders, seen), -0.9999, 0.9999
    )
    left = (mine.excess.z - shared * z) / np.sqrt(1 - shared**2)
    other = np.array([question.factor != mine.factor for question in candidates.questions])
    likely = other & (shared > 0.4) & (left < 4.5) & (z > 2.5)
    order = np.argsort(np.where(likely, -z, np.inf))
    picked: list[int] = []
    tried: dict[str, int] = {}
    for term in order[: int(likely.sum())]:
        factor = candidates.questions[term].factor
        tried[factor] = tried.get(factor, 0) + 1
        if tried[factor] <= _TRIED:
            picked.append(int(term))
    return picked


def _rival(rejects: Rejects, without: State, state: State, mine: Line, term: int) -> Line | None:
    step = try_term(rejects, without, term)
    if step.excess.p > CONVINCING:
        return None
    left = excess(
        rejects.candidates.column(mine.terms[0]),
        step.state.fit,
        rejects.rejected,
        state.dispersion,
        rejects.groupings,
        rejects.context.inspected,
    )
    if left.p <= STILL_SHOWS:
        return None
    return line(rejects, step.state, (term,), step.excess, step.corrected)
