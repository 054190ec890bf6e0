"""Coil, die or run?  For each die and cause: what moves the scrap, the others held still.

The answer is a ranked list of lines.  A line acts when it stands out after correction for everything looked at in all
the series together; it is tied when the data cannot tell it from another line; a factor of which nothing stands out is
clear when an effect worth acting on would have shown, and otherwise there is not enough yet.  Method, assumptions and
measured error rates: docs/method-verdict.md.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from monitor.reckoning.attribution import advice
from monitor.reckoning.attribution.advice import Advice
from monitor.reckoning.attribution.candidates import build as build_candidates
from monitor.reckoning.attribution.candidates import side
from monitor.reckoning.attribution.columns import Candidates
from monitor.reckoning.attribution.context import Context, is_circumstance
from monitor.reckoning.attribution.context import build as build_context
from monitor.reckoning.attribution.findings import FALSE_ALARM, Findings, Found, findings
from monitor.reckoning.attribution.lines import VerdictLine
from monitor.reckoning.attribution.silence import CLEAR_RATIO, Silent
from monitor.reckoning.attribution.stepwise import Rejects
from monitor.reckoning.statistics.multiplicity import benjamini_hochberg
from shared.factors import Explanation

Floats = NDArray[np.float64]

# A few looks at a plant of some dozen dies and causes each.
MOST_REMEMBERED = 500


@dataclass(frozen=True)
class Suspect:
    """A line of the verdict: one factor of one die and cause, with the columns of the figure `suspects`.

    `explanation`: the factor and the level that shows most.  `tied_with`: what the data cannot tell it from, and other
    names of the very same pieces.  `stations`: those whose operation can make the cause, in the order of opening.
    """

    die_id: str
    cause: str
    explanation: Explanation
    rate_ratio: float
    ratio_low: float
    ratio_high: float
    pieces_explained: float
    explained_low: float
    explained_high: float
    false_alarm: float
    verdict: str
    tied_with: tuple[Explanation, ...]
    stations: tuple[int, ...]
    inspected: int
    rejected: int
    next_test: Advice


@dataclass(frozen=True)
class Series:
    """Rejects of one cause on one die.

    `rows` are the die's inspections with their circumstances (columns: see `attribution.context.build`), one row a
    stretch of pieces from one coil in one die state; give all causes of a die the same frame and it is read once.
    `rejected` [pieces] has one entry a row.  `stations` names those whose operation can make the cause.
    """

    die_id: str
    cause: str
    rows: pd.DataFrame
    rejected: ArrayLike
    stations: tuple[int, ...] = ()


def suspects(series: Sequence[Series], remembered: Remembered | None = None) -> tuple[Suspect, ...]:
    """Rank what moves the scrap of each die and cause.

    Pass everything that is looked at together (a plant): the chance of a false alarm is corrected over all of it.
    With the same `remembered` as the last time, only dies and causes with other rows than then are worked out.
    Returns the lines, series in the order given, in each the lines that act or are tied first, by the pieces
    they explain.  Raises ValueError for rejects that cannot be (negative, more than inspected, wrong length).
    """
    answers = _answers(series, remembered or Remembered())
    return tuple(
        line
        for one, answer, chances in zip(series, answers, _false_alarms(answers), strict=True)
        for line in _lines(one, answer, chances)
    )


@dataclass(frozen=True)
class _Answer:
    findings: Findings
    context: Context
    rejected: Floats


@dataclass
class Remembered:
    """Answers of the last looks by a digest of the rows and rejects they were worked out from, the newest last."""

    answers: dict[bytes, _Answer] = field(default_factory=dict)


def _answers(series: Sequence[Series], remembered: Remembered) -> list[_Answer]:
    """Work out what is new, take the rest from earlier looks, and remember the newest."""
    read: dict[int, tuple[Context, Candidates]] = {}
    digests: dict[int, bytes] = {}
    found: dict[bytes, _Answer] = {}
    answers = []
    for one in series:
        key = id(one.rows)
        if key not in digests:
            digests[key] = _digest(one.rows)
        name = digests[key] + hashlib.sha256(np.asarray(one.rejected, float).tobytes()).digest()
        answer = found.get(name) or remembered.answers.get(name)
        if answer is None:
            if key not in read:
                context = build_context(one.rows)
                read[key] = context, build_candidates(context)
            answer = _answer(one, *read[key])
        found[name] = answer
        answers.append(answer)
    kept = {name: answer for name, answer in remembered.answers.items() if name not in found} | found
    remembered.answers = dict(list(kept.items())[-max(MOST_REMEMBERED, len(found)) :])
    return answers


def _digest(rows: pd.DataFrame) -> bytes:
    """Digest of all circumstances in their order; counts of causes are left out, since each is digested by itself."""
    names = [name for name in map(str, rows.columns) if is_circumstance(name)]
    told = hashlib.sha256("\0".join(names).encode())
    for name in names:
        told.update(pd.util.hash_array(np.asarray(rows[name])).tobytes())
    return told.digest()


def _answer(one: Series, context: Context, candidates: Candidates) -> _Answer:
    rejected = np.asarray(one.rejected, float)
    if rejected.shape != (len(one.rows),):
        raise ValueError(f"{one.die_id} {one.cause}: {rejected.size} reject counts for {len(one.rows)} rows")
    kept = rejected[context.kept]
    if np.any(kept < 0) or np.any(kept > context.inspected) or rejected.sum() != kept.sum():
        raise ValueError(f"{one.die_id} {one.cause}: rejected must lie between 0 and inspected in every row")
    if not kept.size:
        return _Answer(Findings((), ()), context, kept)
    return _Answer(findings(Rejects.of(context, candidates, kept)), context, kept)


def _false_alarms(answers: list[_Answer]) -> list[list[float]]:
    """Correct over all series: each is one look, and so is every further line of a series."""
    chances = [[found.line.corrected for found in answer.findings.found] for answer in answers]
    looks = sum(max(len(lines), 1) for lines in chances)
    adjusted = iter(benjamini_hochberg([p for lines in chances for p in lines], looks))
    return [[float(next(adjusted)) for _ in lines] for lines in chances]


def _lines(one: Series, answer: _Answer, chances: list[float]) -> Iterator[Suspect]:
    given = [pair for pair in zip(answer.findings.found, chances, strict=True) if pair[1] <= FALSE_ALARM]
    doubtful = [pair for pair in zip(answer.findings.found, chances, strict=True) if pair[1] > FALSE_ALARM]
    for found, chance in sorted(given, key=lambda pair: -pair[0].line.explained[0]):
        yield from _given(one, answer, found, chance)
    for found, chance in doubtful:
        yield _doubtful(one, answer, found.line, chance)
    for silent in answer.findings.silent:
        yield _silent(one, answer, silent)


def _given(one: Series, answer: _Answer, found: Found, chance: float) -> Iterator[Suspect]:
    """A line that acts, or the lines of a tie, each naming the others."""
    mine = found.line
    apart = [rival for rival in found.rivals if side(rival.factor) != side(mine.factor)]
    near = [rival for rival in found.rivals if side(rival.factor) == side(mine.factor)]
    tie = [mine, *apart]
    usual, bad = _shares(answer, mine)
    for line in tie:
        others = (other.explanation for other in [*tie, *near] if other is not line)
        if apart:
            first, second = (mine, apart[0]) if line is mine else (line, mine)
            test = advice.part(first.explanation, second.explanation, usual, bad)
        else:
            test = advice.confirm(mine.factor, mine.explanation, usual, bad)
        yield replace(
            _suspect(one, answer, line, chance, test),
            verdict="tied" if apart else "acts",
            tied_with=(*others, *line.aliases),
        )


def _doubtful(one: Series, answer: _Answer, line: VerdictLine, chance: float) -> Suspect:
    """A line that may well be chance."""
    usual, bad = _shares(answer, line)
    test = advice.more(usual, max(bad / usual, CLEAR_RATIO) if usual > 0 else CLEAR_RATIO)
    return _suspect(one, answer, line, chance, test)


def _suspect(one: Series, answer: _Answer, line: VerdictLine, chance: float, test: Advice) -> Suspect:
    """What a line amounts to, as long as there is not enough for a verdict."""
    return Suspect(
        die_id=one.die_id,
        cause=one.cause,
        explanation=line.explanation,
        rate_ratio=line.ratio[0],
        ratio_low=line.ratio[1],
        ratio_high=line.ratio[2],
        pieces_explained=line.explained[0],
        explained_low=line.explained[1],
        explained_high=line.explained[2],
        false_alarm=chance,
        verdict="not_enough",
        tied_with=line.aliases,
        stations=one.stations,
        inspected=int(answer.context.inspected[line.bad].sum()),
        rejected=int(answer.rejected[line.bad].sum()),
        next_test=test,
    )


def _silent(one: Series, answer: _Answer, silent: Silent) -> Suspect:
    """A factor of which nothing stands out; the pieces that it explains are not known."""
    usual = float(answer.rejected.sum() / answer.context.inspected.sum())
    return Suspect(
        die_id=one.die_id,
        cause=one.cause,
        explanation=Explanation(silent.factor, (silent.level,)),
        rate_ratio=silent.ratio[0],
        ratio_low=silent.ratio[1],
        ratio_high=silent.ratio[2],
        pieces_explained=np.nan,
        explained_low=np.nan,
        explained_high=np.nan,
        false_alarm=silent.corrected,
        verdict="clear" if silent.clear else "not_enough",
        tied_with=(),
        stations=one.stations,
        inspected=int(answer.context.inspected[silent.bad].sum()),
        rejected=int(answer.rejected[silent.bad].sum()),
        next_test=advice.ruled_out(silent.would_show) if silent.clear else advice.more(usual, CLEAR_RATIO),
    )


def _shares(answer: _Answer, line: VerdictLine) -> tuple[float, float]:
    """Share rejected in the bad rows without the trouble, and with it."""
    bad = float(answer.rejected[line.bad].sum() / answer.context.inspected[line.bad].sum())
    return bad / line.ratio[0], bad
