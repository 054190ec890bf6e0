"""Find what acts, one effect at a time, each judged with the others held still."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from monitor.reckoning.attribution.columns import Candidates
from monitor.reckoning.attribution.context import Context
from monitor.reckoning.attribution.dispersion import CHANCE, Dispersion, Grouping, estimate
from monitor.reckoning.attribution.quasi import Fit, fit_rates
from monitor.reckoning.attribution.score import Excess, Scan, excess, scan

Floats = NDArray[np.float64]

# A candidate worth this much is held still while others are judged, whether or not it becomes a line.
ENTER = 0.15
_MOST_TERMS = 10
_CURVES_OF_A_TROUBLE = 5.0
_TRIED_A_STEP = 4
_MOST_LEAP = 2
_FAR = 1e-4
_FORGIVEN = 3.0


@dataclass(frozen=True)
class Rejects:
    """Rejects of one cause with the circumstances they came from, and how rows hang together."""

    context: Context
    candidates: Candidates
    rejected: Floats
    groupings: tuple[Grouping, ...]

    @staticmethod
    def of(context: Context, candidates: Candidates, rejected: Floats) -> Rejects:
        """Put together what one search needs."""
        return Rejects(context, candidates, rejected, context.groupings)

    def trouble(self, term: int) -> tuple[str, str]:
        """What a question is about: a factor and, for measured circumstances, the quantity."""
        question = self.candidates.questions[term]
        return question.factor, question.quantity

    def fit(self, terms: tuple[int, ...], dispersion: Dispersion, start: Floats | None = None) -> Fit:
        """Fit the rate with these candidates acting; the coefficients of the terms follow that of the level.

        Rows whose strokes, say, are not known have a level of their own while a curve over strokes acts: they may lie
        anywhere on it, and would else look like a drift.
        """
        inspected = self.context.inspected
        columns = [np.ones(inspected.size), *(self.candidates.column(term) for term in terms)]
        not_known = self.candidates.not_known
        columns += [not_known[trouble] for trouble in dict.fromkeys(map(self.trouble, terms)) if trouble in not_known]
        return fit_rates(np.stack(columns).T, self.rejected, inspected, dispersion.spread(inspected), start)

    def scan(self, state: State) -> Scan:
        """Look at every question with the terms of a state held still."""
        return scan(self.candidates, state.fit, self.rejected, state.dispersion, self.groupings)

    def settle(self, terms: tuple[int, ...], dispersion: Dispersion, start: Floats | None = None) -> State:
        """Fit and estimate the dispersion with it."""
        fit = self.fit(terms, dispersion, start)
        found = estimate(fit, self.rejected, self.context.inspected, self.groupings)
        return State(terms, fit, found)


@dataclass(frozen=True)
class State:
    """Which candidates act, the fit with them, and the dispersion that is left."""

    terms: tuple[int, ...]
    fit: Fit
    dispersion: Dispersion

    @staticmethod
    def empty(rejects: Rejects) -> State:
        """Nothing acts and nothing scatters."""
        return State((), rejects.fit((), CHANCE), CHANCE)


@dataclass(frozen=True)
class Step:
    """A candidate tried: the state with it, and its excess over the state without it."""

    term: int
    state: State
    excess: Excess
    corrected: float


def search(rejects: Rejects) -> tuple[State, Scan]:
    """Add effects while one stands out, then drop those that the others explain; the scan is over what is left."""
    state = rejects.settle((), CHANCE)
    state = rejects.settle((), state.dispersion, state.fit.coefficients)
    seen = rejects.scan(state)
    while len(state.terms) < _MOST_TERMS:
        step = best_step(rejects, state, seen)
        if step is not None and step.corrected > ENTER:
            step = _leap(rejects, step) if _hidden(rejects, state, seen) else None
        if step is None:
            break
        state = step.state
        seen = rejects.scan(state)
    left = _prune(rejects, state)
    return left, seen if left is state else rejects.scan(left)


def _hidden(rejects: Rejects, state: State, seen: Scan) -> bool:
    """Whether something would stand out by far, were it not for the scatter of coils, lots and time."""
    alone = seen.z * seen.alone[rejects.candidates.of_question]
    alone[list(state.terms)] = 0.0
    return bool(np.any(special.ndtr(-alone) * rejects.candidates.looks < _FAR))


def _leap(rejects: Rejects, step: Step) -> Step | None:
    """Go on from a step that does not stand out by itself, if another does then and both stand out by far.

    Two large troubles make coils, lots and weeks differ so much that neither shows while the other goes on.
    """
    last = step
    for _ in range(_MOST_LEAP):
        if not any(last.state.dispersion.groups):
            return None
        following = best_step(rejects, last.state, rejects.scan(last.state))
        if following is None:
            return None
        if following.corrected <= _FAR and judged(rejects, following.state, step.term).corrected <= _FAR:
            return following
        last = following
    return None


def best_step(rejects: Rejects, state: State, seen: Scan) -> Step | None:
    """Question whose excess is least likely by chance, judged with the dispersion that is left once it acts."""
    steps = [try_term(rejects, state, term) for term in _worth_trying(rejects, state, seen)]
    return min(steps, key=lambda step: step.corrected, default=None)


def try_term(rejects: Rejects, state: State, term: int) -> Step:
    """Let one more candidate act."""
    start = state.fit.coefficients[: 1 + len(state.terms)]
    after = rejects.settle((*state.terms, term), state.dispersion, start)
    found = excess(
        rejects.candidates.column(term),
        state.fit,
        rejects.rejected,
        after.dispersion,
        rejects.groupings,
        rejects.context.inspected,
    )
    return Step(term, after, found, corrected(rejects, state.terms, term, found.p))


def corrected(rejects: Rejects, others: tuple[int, ...], term: int, p: float) -> float:
    """Correct a p-value for everything looked at; another curve of a trouble already found is no new trouble."""
    if rejects.trouble(term) in {rejects.trouble(other) for other in others}:
        return min(1.0, p * _CURVES_OF_A_TROUBLE)
    return min(1.0, p * rejects.candidates.questions[term].looks)


def _worth_trying(rejects: Rejects, state: State, seen: Scan) -> list[int]:
    """The few questions that could come first, by a normal curve that forgives what the close look may change.

    Half of them without the scatter of coils, lots and time: that may be the work of the very trouble.
    """
    looks = rejects.candidates.looks.copy()
    found = rejects.candidates.troubles[list(state.terms)]
    looks[np.isin(rejects.candidates.troubles, found)] = _CURVES_OF_A_TROUBLE
    picked: dict[int, None] = {}
    for z in (seen.z, seen.alone[rejects.candidates.of_question] * seen.z):
        rough = special.ndtr(-z) * looks
        rough[list(state.terms)] = np.inf
        order = np.argsort(rough)[:_TRIED_A_STEP]
        picked |= {int(term): None for term in order if rough[term] < _FORGIVEN}
    return list(picked)


def _prune(rejects: Rejects, state: State) -> State:
    """Drop, worst first, the terms that no longer show with all others held still."""
    while True:
        steps = [judged(rejects, state, term) for term in state.terms]
        worst = max(steps, key=lambda step: step.corrected, default=None)
        if worst is None or worst.corrected <= ENTER:
            return state
        left = tuple(term for term in state.terms if term != worst.term)
        state = rejects.settle(left, state.dispersion)


def judged(rejects: Rejects, state: State, term: int, alone: bool = False) -> Step:
    """Judge one term of a state with its other terms held still; `alone` leaves out curves of the same trouble."""
    others = tuple(
        other
        for other in state.terms
        if other != term and not (alone and rejects.trouble(term) == rejects.trouble(other))
    )
    found = excess(
        rejects.candidates.column(term),
        rejects.fit(others, state.dispersion),
        rejects.rejected,
        state.dispersion,
        rejects.groupings,
        rejects.context.inspected,
    )
    return Step(term, state, found, corrected(rejects, others, term, found.p))
