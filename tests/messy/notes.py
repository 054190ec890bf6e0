"""Notes of stops as people write them, and which reason each second of standing then has (reckoning, section 3)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from sample_runs.simulate.script import StopNote
from tests.invented.jobs import REASONS, Dice
from tests.messy.loggers import RUNS, STANDS, Seen

#: A note covers its standstill up to this much beyond its own ends.
EDGE_S = 300
#: Two figures that are no further apart than this may be rounded to either side of one another.
NEAR_S = 2
GRIDS_S = (1, 60, 300, 900)
NO_REASON, NOT_JUDGED = "", "?"

Span = tuple[int, int]


@dataclass
class StopTruth:
    """Reason by second of standing since `from_s` (NOT_JUDGED where the rules leave it open), and the contradictions.

    `whole` are standstills that have one note or none, which are one stop.  `running` are notes that meet no
    standstill; `doubtful` are those of which the rules leave that open.
    """

    from_s: int
    reason: np.ndarray
    whole: list[Span] = field(default_factory=list)
    running: list[StopNote] = field(default_factory=list)
    doubtful: list[StopNote] = field(default_factory=list)


def written(dice: Dice, view: Seen) -> list[StopNote]:
    """Notes on some of the standstills: rounded, late, open, split, over two, and some while the press ran."""
    notes: dict[int, StopNote] = {}
    standstills = [span for span in view.standstills() if span[1] - span[0] < 30 * 3600]
    for number, span in enumerate(standstills):
        if dice.chance(0.65):
            following = standstills[number + 1] if number + 1 < len(standstills) else None
            for note in _on(dice, span, following):
                notes.setdefault(note.from_s, note)
    for note in _while_running(dice, view):
        notes.setdefault(note.from_s, note)
    return sorted(notes.values(), key=lambda note: note.from_s)


def _on(dice: Dice, span: Span, following: Span | None) -> Iterator[StopNote]:
    """The notes on one standstill."""
    begin, end = span
    grid_s = int(dice.rng.choice(GRIDS_S))
    if grid_s > 1:
        dice.happened.add("rounded stops")
    if following and following[0] - end < 600 and dice.chance(0.5, "remount"):
        dice.happened.add("a note over two standstills")
        yield _rounded(begin, following[1], grid_s, dice.one_of(REASONS))
    elif end - begin > 1200 and dice.chance(0.35):
        dice.happened.add("two notes in a standstill")
        middle = int(dice.rng.integers(begin + 300, end - 300))
        stops = middle - (int(dice.rng.integers(0, 900)) if dice.chance(0.3) else 0)
        yield _rounded(begin, max(stops, begin + 1), grid_s, "PUN")
        yield _rounded(middle, end, grid_s, "MIS")
    elif dice.chance(0.15):
        dice.happened.add("a note without an end")
        yield StopNote(int(dice.rng.integers(begin, end)), None, dice.one_of(REASONS))
    else:
        late_s = int(dice.rng.integers(0, end - begin)) if dice.chance(0.2) else 0
        yield _rounded(begin + late_s, end, grid_s, dice.one_of(REASONS))


def _rounded(begin: int, end: int, grid_s: int, reason: str) -> StopNote:
    from_s = (begin + grid_s // 2) // grid_s * grid_s
    return StopNote(from_s, max((end + grid_s // 2) // grid_s * grid_s, from_s + grid_s), reason)


def _while_running(dice: Dice, view: Seen) -> Iterator[StopNote]:
    """Now and then a note in the middle of a long run, longer than what counts as a stop: it could have met one."""
    for begin, end in _stretches_of(view, RUNS):
        if end - begin > 2400 and dice.chance(0.15):
            dice.happened.add("a note while the press ran")
            middle = (begin + end) // 2
            yield StopNote(middle - 120, middle + int(dice.rng.integers(40, 200)), "LUB")


def _stretches_of(view: Seen, state: int) -> list[Span]:
    edges = np.flatnonzero(np.diff(np.concatenate([[-1], view.state, [-1]])))
    return [(a + view.from_s, b + view.from_s) for a, b in pairwise(edges.tolist()) if view.state[a] == state]


def reasons(view: Seen, notes: Sequence[StopNote], edge_s: int = EDGE_S) -> StopTruth:
    """Which reason each second of standing has by the notes."""
    standstills = view.standstills()
    truth = StopTruth(view.from_s, np.full(len(view.state), NO_REASON, dtype=object))
    given: dict[Span, list[tuple[int, int, str]]] = {span: [] for span in standstills}
    for note in notes:
        _assign(note, standstills, view=view, truth=truth, given=given, edge_s=edge_s)
    for span, mine in given.items():
        _cover(span, sorted(mine), truth, edge_s)
        if len(mine) < 2:
            truth.whole.append(span)
    return truth


def _assign(
    note: StopNote,
    standstills: list[Span],
    view: Seen,
    truth: StopTruth,
    given: dict[Span, list[tuple[int, int, str]]],
    edge_s: int,
) -> None:
    """Give a note to the standstill that it overlaps most."""
    if note.to_s is None:
        mine = [span for span in standstills if span[0] <= note.from_s < span[1]]
        given[mine[0]].append((note.from_s, mine[0][1], note.reason))
        return
    overlaps = sorted((min(note.to_s, end) - max(note.from_s, begin), begin, end) for begin, end in standstills)
    best = overlaps[-1] if overlaps else (0, 0, 0)
    if best[0] <= 0:
        near = [span for span in standstills if span[0] < note.to_s + edge_s and span[1] > note.from_s - edge_s]
        around = view.state[max(note.from_s - view.from_s - edge_s, 0) : note.to_s - view.from_s + edge_s]
        sure = not near and (around == RUNS).all()
        (truth.running if sure else truth.doubtful).append(note)
        for span in near:
            _leave_open(truth, *span)
    elif len(overlaps) > 1 and best[0] - overlaps[-2][0] <= NEAR_S:
        for _, begin, end in overlaps[-2:]:
            _leave_open(truth, begin, end)
    else:
        given[best[1], best[2]].append((note.from_s, note.to_s, note.reason))


def _cover(span: Span, mine: list[tuple[int, int, str]], truth: StopTruth, edge_s: int) -> None:
    """Lay the notes of a standstill over it, in order of their beginnings."""
    begin, end = span
    for number, (from_s, to_s, reason) in enumerate(mine):
        last = number + 1 == len(mine)
        until = end if last else max(mine[number + 1][0], begin)
        first = max(from_s, begin)
        if not number:
            first = _reach(truth, begin, first, edge_s, backwards=True)
        stops = until if to_s >= until else _reach(truth, to_s, until, edge_s)
        _say(truth, first, stops, reason)
        if not last and to_s > mine[number + 1][1]:
            _leave_open(truth, mine[number + 1][1], end)


def _reach(truth: StopTruth, begin: int, end: int, edge_s: int, backwards: bool = False) -> int:
    """How far a note goes into a part beside it that no note covers."""
    if abs(end - begin - edge_s) <= NEAR_S:
        _leave_open(truth, begin, end)
    covered = end - begin <= edge_s
    if backwards:
        return begin if covered else end
    return end if covered else begin


def _say(truth: StopTruth, begin: int, end: int, reason: str) -> None:
    part = truth.reason[begin - truth.from_s : end - truth.from_s]
    part[part != NOT_JUDGED] = reason


def _leave_open(truth: StopTruth, begin: int, end: int) -> None:
    truth.reason[max(begin - truth.from_s, 0) : max(end - truth.from_s, 0)] = NOT_JUDGED


def is_standing(view: Seen) -> np.ndarray:
    """Whether the press stood, second by second."""
    return np.asarray(view.state == STANDS)
