"""Coil, die or run?  For each die and cause: what moves the scrap, the others held still.

The answer is a ranked list with the columns of the figure table `suspects`.  A line acts when it stands out after
correction for everything looked at in all the series together; it is tied when the data cannot tell it from another
line; a factor of which nothing stands out is clear when an effect worth acting on would have shown, and otherwise
there is not enough yet.  Method, assumptions and measured error rates: docs/method-verdict.md.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from monitor.reckoning.attribution import advice
from monitor.reckoning.attribution.candidates import build as build_candidates
from monitor.reckoning.attribution.candidates import side
from monitor.reckoning.attribution.columns import Candidates, named
from monitor.reckoning.attribution.context import Context, is_circumstance
from monitor.reckoning.attribution.context import build as build_context
from monitor.reckoning.attribution.findings import FALSE_ALARM, Findings, Found, findings
from monitor.reckoning.attribution.lines import VerdictLine
from monitor.reckoning.attribution.silence import CLEAR_RATIO, Silent
from monitor.reckoning.attribution.stepwise import Rejects
from monitor.reckoning.statistics.multiplicity import benjamini_hochberg

Floats = NDArray[np.float64]

# A few looks at a plant of some dozen dies and causes each.
MOST_REMEMBERED = 500

COLUMNS = (
    "die_id",
    "cause",
    "factor",
    "level",
    "rate_ratio",
    "ratio_low",
    "ratio_high",
    "pieces_explained",
    "explained_low",
    "explained_high",
    "false_alarm",
    "verdict",
    "tied_with",
    "stations",
    "inspected",
    "rejected",
    "next_test",
)


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
    stations: str = ""


def suspects(series: Sequence[Series], remembered: Remembered | None = None) -> pd.DataFrame:
    """Rank what moves the scrap of each die and cause.

    Pass everything that is looked at together (a plant): the chance of a false alarm is corrected over all of it.
    With the same `remembered` as the last time, only dies and causes with other rows than then are worked out.
    Returns one row a line, series in the order given, in each the lines that act or are tied first, by the pieces
    they explain.  Raises ValueError for rejects that cannot be (negative, more than inspected, wrong length).
    """
    answers = _answers(series, remembered or Remembered())
    rows = [
        row
        for one, answer, chances in zip(series, answers, _false_alarms(answers), strict=True)
        for row in _rows(one, answer, chances)
    ]
    return pd.DataFrame(rows, columns=list(COLUMNS)).astype({"inspected": "int64", "rejected": "int64"})


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


def _rows(one: Series, answer: _Answer, chances: list[float]) -> Iterator[tuple[object, ...]]:
    given = [pair for pair in zip(answer.findings.found, chances, strict=True) if pair[1] <= FALSE_ALARM]
    doubtful = [pair for pair in zip(answer.findings.found, chances, strict=True) if pair[1] > FALSE_ALARM]
    for found, chance in sorted(given, key=lambda pair: -pair[0].line.explained[0]):
        yield from _given(one, answer, found, chance)
    for found, chance in doubtful:
        yield _doubtful(one, answer, found.line, chance)
    for silent in answer.findings.silent:
        yield _silent(one, answer, silent)


def _given(one: Series, answer: _Answer, found: Found, chance: float) -> Iterator[tuple[object, ...]]:
    """A line that acts, or the lines of a tie, each naming the others."""
    mine = found.line
    apart = [rival for rival in found.rivals if side(rival.factor) != side(mine.factor)]
    near = [rival for rival in found.rivals if side(rival.factor) == side(mine.factor)]
    tie = [mine, *apart]
    usual, bad = _shares(answer, mine)
    for line in tie:
        others = [other for other in [*tie, *near] if other is not line]
        names = [_name(other) for other in others] + list(line.aliases)
        if apart:
            first, second = (mine, apart[0]) if line is mine else (line, mine)
            test = advice.part(_pair(first), _pair(second), usual, bad)
        else:
            test = advice.confirm(mine.factor, mine.level, usual, bad)
        yield _row(
            one,
            answer,
            line=line,
            chance=chance,
            verdict="tied" if apart else "acts",
            tied_with="; ".join(names),
            test=test,
        )


def _doubtful(one: Series, answer: _Answer, line: VerdictLine, chance: float) -> tuple[object, ...]:
    usual, bad = _shares(answer, line)
    test = advice.more(usual, max(bad / usual, CLEAR_RATIO) if usual > 0 else CLEAR_RATIO)
    return _row(
        one, answer, line=line, chance=chance, verdict="not_enough", tied_with="; ".join(line.aliases), test=test
    )


def _row(
    one: Series, answer: _Answer, line: VerdictLine, chance: float, verdict: str, tied_with: str, test: str
) -> tuple[object, ...]:
    factor = named(line.factor)
    pieces = int(answer.context.inspected[line.bad].sum()), int(answer.rejected[line.bad].sum())
    numbers = (*line.ratio, *line.explained, chance)
    return (one.die_id, one.cause, factor, line.level, *numbers, verdict, tied_with, one.stations, *pieces, test)


def _silent(one: Series, answer: _Answer, silent: Silent) -> tuple[object, ...]:
    verdict = "clear" if silent.clear else "not_enough"
    usual = float(answer.rejected.sum() / answer.context.inspected.sum())
    test = advice.ruled_out(silent.would_show) if silent.clear else advice.more(usual, CLEAR_RATIO)
    pieces = int(answer.context.inspected[silent.bad].sum()), int(answer.rejected[silent.bad].sum())
    numbers = (*silent.ratio, np.nan, np.nan, np.nan, silent.corrected)
    return (one.die_id, one.cause, silent.factor, silent.level, *numbers, verdict, "", one.stations, *pieces, test)


def _shares(answer: _Answer, line: VerdictLine) -> tuple[float, float]:
    """Share rejected in the bad rows without the trouble, and with it."""
    bad = float(answer.rejected[line.bad].sum() / answer.context.inspected[line.bad].sum())
    return bad / line.ratio[0], bad


def _pair(line: VerdictLine) -> tuple[str, str]:
    return named(line.factor), line.level


def _name(line: VerdictLine) -> str:
    factor, level = _pair(line)
    return f"{factor}: {level}"
