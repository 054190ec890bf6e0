"""Coils, reels and dies that were on two presses at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from monitor.figures.contradictions.found import COIL, DIE, Contradiction, named, places
from monitor.figures.question import Question
from monitor.ledger import Placed, Snapshot
from monitor.reckoning.pieces.contradictions import EDGE_US, Overlap, PressStay, overlaps
from shared.durations import DAY_US
from shared.errors import DamagedPart
from shared.phrases import phrase

#: Strokes on both presses that show that both ran with it: fewer are inching and dry strokes while it is changed;
#: common practice, no source.
LEAST_STROKES = 100

#: How long strokes are looked for after the second note [us]; common practice, no source.
_LOOK_US = 14 * DAY_US


@dataclass(frozen=True)
class _Kind:
    """What is noted where: the table, the column of what stays, the events that begin a stay and that end it."""

    code: str
    table: str
    column: str
    begins: tuple[str, ...]
    ends: str


_KINDS = (
    _Kind(COIL, "coil_changes", "coil_id", ("mount", "splice"), "remove"),
    _Kind(DIE, "die_changes", "die_id", ("set",), "pull"),
)


def on_two_presses(question: Question) -> Iterator[Contradiction]:
    """Yield the coils, reels and dies noted on a press while another went on stroking with them."""
    for kind in _KINDS:
        for overlap in overlaps(_stays(question, kind)):
            if _is_asked(question, overlap) and _both_ran(question.snapshot, overlap):
                yield _contradiction(question.snapshot, kind, overlap)


def _is_asked(question: Question, overlap: Overlap) -> bool:
    asked, us = question.scope, overlap.second.from_us
    if asked.press is not None and asked.press not in (overlap.first.press_id, overlap.second.press_id):
        return False
    return (asked.from_us is None or us >= asked.from_us) and (asked.to_us is None or us < asked.to_us)


def _stays(question: Question, kind: _Kind) -> list[PressStay]:
    """Return the stays of whatever begins one in range, and is noted on more than one press."""
    snapshot, asked = question.snapshot, question.scope
    new = snapshot.placed_between(kind.table, asked.from_us, asked.to_us)
    names = {row.row[kind.column] for row in new if row.row["event"] in kind.begins}
    noted: dict[str, list[Placed]] = defaultdict(list)
    for row in sorted(snapshot.placed(kind.table, kind.column, names), key=lambda r: int(r.row["time"])):
        noted[row.row[kind.column]].append(row)
    found = []
    for some in noted.values():
        if len({row.row["press_id"] for row in some}) > 1:
            found += [_stay(snapshot, kind, row, some) for row in _bearing(kind, some, asked.from_us)]
    return found


def _bearing(kind: _Kind, noted: Sequence[Placed], from_us: int | None) -> list[Placed]:
    """Return the beginnings of stays in range, and the last one on each press before it."""
    begins = [row for row in noted if row.row["event"] in kind.begins]
    if from_us is None:
        return begins
    before = {row.row["press_id"]: row for row in begins if row.row["time"] < from_us}
    return [*before.values(), *(row for row in begins if row.row["time"] >= from_us)]


def _stay(snapshot: Snapshot, kind: _Kind, begin: Placed, noted: Sequence[Placed]) -> PressStay:
    """Return the stay that a row begins; it lasts until it is noted gone, or anything else is noted in its place."""
    name, press_id, since = begin.row[kind.column], begin.row["press_id"], begin.row["time"]
    later = [row.row for row in noted if row.row["time"] > since]
    ends = [row["time"] for row in later if row["press_id"] == press_id and row["event"] in (*kind.begins, kind.ends)]
    elsewhere = [row["time"] for row in later if row["press_id"] != press_id and row["event"] in kind.begins]
    end = min(ends, default=None)
    if elsewhere and (end is None or end > elsewhere[0]):
        after = snapshot.placed_between(kind.table, since + 1, elsewhere[0] + _LOOK_US, press_id=press_id)
        ends += [row.row["time"] for row in after if row.row["event"] in kind.begins]
        end = min(ends, default=None)
    return PressStay(name, press_id, since, end, begin)


def _both_ran(snapshot: Snapshot, overlap: Overlap) -> bool:
    """Tell whether both presses stroked on between readings that lie within the overlap."""
    begin = overlap.from_us + EDGE_US
    end = min(begin + _LOOK_US, overlap.to_us or begin + _LOOK_US)
    presses = (overlap.first.press_id, overlap.second.press_id)
    return all(_strokes(snapshot, press_id, begin, end) >= LEAST_STROKES for press_id in presses)


def _strokes(snapshot: Snapshot, press_id: str, begin: int, end: int) -> int:
    """Return the strokes counted between readings of a press in [begin, end) [us]; a fall counts none."""
    try:
        counters = np.asarray(snapshot.strokes(press_id, begin, end).column("counter"))
    except DamagedPart:  # A check names it.
        return 0
    rises = np.diff(counters)
    return int(rises[rises > 0].sum())


def _contradiction(snapshot: Snapshot, kind: _Kind, overlap: Overlap) -> Contradiction:
    rows = places(snapshot, (overlap.first.note, overlap.second.note))
    name, presses = overlap.second.name, named(overlap.first.press_id, overlap.second.press_id)
    told = {
        "name": name,
        "first": overlap.first.press_id,
        "second": overlap.second.press_id,
        "rows": "; ".join(rows),
    }
    if kind.code == COIL:
        remedy = phrase(
            "Coil {name!r} went on press {second!r} while press {first!r} still fed it. Enter when it came off, or "
            "correct the coil in {rows!r} and load with --correct.",
            **told,
        )
        return Contradiction(COIL, overlap.second.from_us, rows, remedy, presses=presses, coils=(name,))
    remedy = phrase(
        "Die {name!r} was set in press {second!r} while press {first!r} still stroked with it. Enter its pull, or "
        "correct the die in {rows!r} and load with --correct.",
        **told,
    )
    return Contradiction(DIE, overlap.second.from_us, rows, remedy, presses=presses, dies=(name,))
