"""Everything that is found about one die and cause: what acts, what cannot be told apart, what is silent."""

from __future__ import annotations

from dataclasses import dataclass

from monitor.reckoning.attribution.columns import named
from monitor.reckoning.attribution.lines import VerdictLine, line, troubles
from monitor.reckoning.attribution.silence import Silent, silent
from monitor.reckoning.attribution.stepwise import Rejects, Selection, judged, search
from monitor.reckoning.attribution.ties import rivals

# A line is given when the chance that it is a false alarm, corrected for everything looked at, is at most this.
FALSE_ALARM = 0.03


@dataclass(frozen=True)
class Found:
    """A line with the other explanations that the data cannot tell from it."""

    line: VerdictLine
    rivals: tuple[VerdictLine, ...]


@dataclass(frozen=True)
class Findings:
    """Lines with the least likely by chance first, and the factors of which none is a line."""

    found: tuple[Found, ...]
    silent: tuple[Silent, ...]


def findings(rejects: Rejects) -> Findings:
    """Search, describe and set apart."""
    if not rejects.rejected.sum() > 0:
        state = Selection.empty(rejects)
        return Findings((), tuple(silent(rejects, state, rejects.scan(state), set(), FALSE_ALARM)))
    state, seen = search(rejects)
    lines = sorted((_line(rejects, state, terms) for terms in troubles(rejects, state.terms)), key=_by_chance)
    found = tuple(
        Found(one, tuple(rivals(rejects, state, one)) if one.corrected <= FALSE_ALARM else ()) for one in lines
    )
    spoken = {named(one.factor) for each in found for one in (each.line, *each.rivals)}
    return Findings(found, tuple(silent(rejects, state, seen, spoken, FALSE_ALARM)))


def _line(rejects: Rejects, state: Selection, terms: tuple[int, ...]) -> VerdictLine:
    """Name a trouble by the curve that shows it best on its own."""
    steps = [judged(rejects, state, term, alone=True) for term in terms]
    leading = min(steps, key=lambda step: step.corrected)
    rest = tuple(term for term in terms if term != leading.term)
    return line(rejects, state, (leading.term, *rest), leading.excess, leading.corrected)


def _by_chance(one: VerdictLine) -> float:
    return one.corrected
