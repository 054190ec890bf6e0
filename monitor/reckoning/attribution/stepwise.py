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
from shared.factors import Level

Floats = NDArray[np.float64]

# A candidate worth this much is held still while others are judged, whether or not it becomes a line.
ENTER = 0.15
_MOST_TERMS = 10
_CURVES_OF_A_TROUBLE = 5.0
_TRIED_A_STEP = 4
# More curves of time than this would follow whatever wanders.
_MOST_DRIFTS = 2
_MOST_TOGETHER = 4
_FAR = 1e-3
# What lies in one stretch of time may be the scatter of time that it would take away with it.
_IN_TIME = ("drift", "setup")
# A level of a factor beside the one that is to tell it all may stand out by so many standard deviations.
_BESIDE = 2.3
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

    def trouble(self, term: int) -> tuple[str, str | Level]:
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

    def scan(self, state: Selection) -> Scan:
        """Look at every question with the terms of a state held still."""
        return scan(self.candidates, state.fit, self.rejected, state.dispersion, self.groupings)

    def scan_alone(self, state: Selection) -> Scan:
        """Look at every question without the scatter of coils, lots and time: that may be the work of a trouble."""
        return scan(self.candidates, state.fit, self.rejected, state.dispersion, ())

    def settle(self, terms: tuple[int, ...], dispersion: Dispersion, start: Floats | None = None) -> Selection:
        """Fit and estimate the dispersion with it."""
        fit = self.fit(terms, dispersion, start)
        found = estimate(fit, self.rejected, self.context.inspected, self.groupings)
        return Selection(terms, fit, found)


@dataclass(frozen=True)
class Selection:
    """Which candidates act, the fit with them, and the dispersion that is left."""

    terms: tuple[int, ...]
    fit: Fit
    dispersion: Dispersion

    @staticmethod
    def empty(rejects: Rejects) -> Selection:
        """Nothing acts and nothing scatters."""
        return Selection((), rejects.fit((), CHANCE), CHANCE)


@dataclass(frozen=True)
class Step:
    """A candidate tried: the state with it, and its excess over the state without it."""

    term: int
    state: Selection
    excess: Excess
    corrected: float


def search(rejects: Rejects) -> tuple[Selection, Scan]:
    """Add effects while one stands out, then drop those that the others explain; the scan is over what is left."""
    state = rejects.settle((), CHANCE)
    state = rejects.settle((), state.dispersion, state.fit.coefficients)
    state, seen = _grow(rejects, _together(rejects, state))
    left = _as_one_level(rejects, _prune(rejects, state))
    return left, seen if left is state else rejects.scan(left)


def _grow(rejects: Rejects, state: Selection) -> tuple[Selection, Scan]:
    """Add effects one at a time while one stands out."""
    seen = rejects.scan(state)
    while len(state.terms) < _MOST_TERMS:
        step = best_step(rejects, state, seen)
        if step is None or step.corrected > ENTER:
            break
        state = step.state
        seen = rejects.scan(state)
    return state, seen


def _together(rejects: Rejects, state: Selection) -> Selection:
    """Let several large troubles of different factors in at once, where all of them then stand out by far.

    They make coils, lots and weeks differ so much that none shows while the others go on; so they are looked for
    without that scatter, and held against what is left of it once they act.
    """
    best = now = state
    while len(now.terms) < _MOST_TOGETHER:
        term = _strongest(rejects, now)
        if term is None:
            break
        now = _reconsidered(rejects, rejects.settle((*now.terms, term), now.dispersion))
        if len(now.terms) > 1 and all(judged(rejects, now, one).corrected <= _FAR for one in now.terms):
            best = now
    return best


def _strongest(rejects: Rejects, state: Selection, factor: str = "") -> int | None:
    """Question that stands out most without the scatter of coils, lots and time: of this factor, or of a new one.

    A new one has to stand out by far.
    """
    candidates = rejects.candidates
    if not candidates.questions:
        return None
    rough = special.ndtr(-rejects.scan_alone(state).z) * candidates.looks
    of = candidates.factors
    rough[of != factor if factor else np.isin(of, [*_IN_TIME, *of[list(state.terms)]])] = np.inf
    term = int(np.argmin(rough))
    return term if factor or rough[term] <= _FAR else None


def _reconsidered(rejects: Rejects, state: Selection) -> Selection:
    """Look once more, now that the last term acts, for the question that tells best of each factor before it."""
    for term in state.terms[:-1]:
        others = tuple(one for one in state.terms if one != term)
        without = rejects.settle(others, state.dispersion)
        again = _strongest(rejects, without, str(rejects.candidates.factors[term]))
        if again is not None and again != term:
            state = rejects.settle((*others, again), state.dispersion)
    return state


def _as_one_level(rejects: Rejects, state: Selection) -> Selection:
    """Put one level where several of its factor say no more: all but P1 and all but P2 of three presses are P3."""
    candidates = rejects.candidates
    levels = candidates.marks.shape[1]
    turned = {one.factor for one in candidates.questions if one.low and one.column < levels}
    for factor in turned:
        mine = [number for number, one in enumerate(candidates.questions) if one.factor == factor]
        others = tuple(term for term in state.terms if term not in mine)
        if len(state.terms) - len(others) < 2:
            continue
        without = rejects.settle(others, state.dispersion)
        best = min((try_term(rejects, without, term) for term in mine), key=lambda step: step.corrected)
        if np.max(rejects.scan(best.state).z[mine]) < _BESIDE:
            state = best.state
    return state


def best_step(rejects: Rejects, state: Selection, seen: Scan) -> Step | None:
    """Question whose excess is least likely by chance, judged with the dispersion that is left once it acts."""
    steps = [try_term(rejects, state, term) for term in _worth_trying(rejects, state, seen)]
    return min(steps, key=lambda step: step.corrected, default=None)


def try_term(rejects: Rejects, state: Selection, term: int) -> Step:
    """Let one more candidate act."""
    start = state.fit.coefficients[: 1 + len(state.terms)]
    after = rejects.settle((*state.terms, term), state.dispersion, start)
    found = excess(
        rejects.candidates.column(term),
        state.fit,
        rejected=rejects.rejected,
        dispersion=after.dispersion,
        groupings=rejects.groupings,
        inspected=rejects.context.inspected,
    )
    return Step(term, after, found, corrected(rejects, state.terms, term, found.p))


def corrected(rejects: Rejects, others: tuple[int, ...], term: int, p: float) -> float:
    """Correct a p-value for everything looked at; another curve of a trouble already found is no new trouble."""
    if rejects.trouble(term) in {rejects.trouble(other) for other in others}:
        return min(1.0, p * _CURVES_OF_A_TROUBLE)
    return min(1.0, p * rejects.candidates.questions[term].looks)


def _worth_trying(rejects: Rejects, state: Selection, seen: Scan) -> list[int]:
    """The few questions that could come first, by a normal curve that forgives what the close look may change.

    Half of them without the scatter of coils, lots and time: that may be the work of the very trouble.
    """
    looks = rejects.candidates.looks.copy()
    found = rejects.candidates.troubles[list(state.terms)]
    looks[np.isin(rejects.candidates.troubles, found)] = _CURVES_OF_A_TROUBLE
    drifts = rejects.candidates.factors == "drift"
    enough = np.sum(drifts[list(state.terms)]) >= _MOST_DRIFTS
    picked: dict[int, None] = {}
    for z in (seen.z, seen.alone[rejects.candidates.of_question] * seen.z):
        rough = special.ndtr(-z) * looks
        rough[list(state.terms)] = np.inf
        rough[drifts & enough] = np.inf
        order = np.argsort(rough)[:_TRIED_A_STEP]
        picked |= {int(term): None for term in order if rough[term] < _FORGIVEN}
    return list(picked)


def _prune(rejects: Rejects, state: Selection) -> Selection:
    """Drop, worst first, the terms that no longer show with all others held still."""
    while True:
        steps = [judged(rejects, state, term) for term in state.terms]
        worst = max(steps, key=lambda step: step.corrected, default=None)
        if worst is None or worst.corrected <= ENTER:
            return state
        left = tuple(term for term in state.terms if term != worst.term)
        state = rejects.settle(left, state.dispersion)


def judged(rejects: Rejects, state: Selection, term: int, alone: bool = False) -> Step:
    """Judge one term of a state with its other terms held still; `alone` leaves out curves of the same trouble."""
    others = tuple(
        other
        for other in state.terms
        if other != term and not (alone and rejects.trouble(term) == rejects.trouble(other))
    )
    found = excess(
        rejects.candidates.column(term),
        rejects.fit(others, state.dispersion),
        rejected=rejects.rejected,
        dispersion=state.dispersion,
        groupings=rejects.groupings,
        inspected=rejects.context.inspected,
    )
    return Step(term, state, found, corrected(rejects, others, term, found.p))
