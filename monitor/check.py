"""Checks a ledger: its files, its sums, its facts against a fold of the same rows; says how to mend what is wrong."""

from __future__ import annotations

import math
import tempfile
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd

from monitor.contradictions import all_of, summary
from monitor.figures import AVAILABLE, FIGURES, figure
from monitor.keep.backup import backup
from monitor.ledger import Finding, Fold, Ledger, Snapshot
from monitor.load.clock_words import clock_lines
from monitor.load.counter_clocks import Clock, found, lags_of
from monitor.plant.book import Book, plant_of
from monitor.plant.carries import newest_readings
from monitor.refold.affected_days import AffectedDays
from monitor.refold.press_days import fold_day, refold
from shared.errors import DamagedPart
from shared.facts import FACTS
from shared.fields import Kind
from shared.words import ENGLISH

#: Press-days folded again where a check is not deep.
SAMPLE = 12

_REFOLD = "load any file of that press again with --correct, or call check --deep and restore a backup"


def check(ledger: Ledger, deep: bool = False) -> list[Finding]:
    """Everything that is not as it should be, each with how to mend it; notes which files are damaged.

    Looked at are the catalogue, presence, bytes and rows of every file, read = new + repeated + corrected + set_aside
    of every load, the sums of every figure, and facts against a fold of the same rows: of a sample of press-days, or
    with `deep` of all of them from the first reading on.
    """
    inspector = ledger.keeper.inspector
    findings = inspector.catalogue()
    about_files, damaged, sound = inspector.files()
    inspector.mark(damaged, sound)
    findings += about_files + inspector.rows(sound) + inspector.loads()
    findings += list(_figures(ledger))
    findings += _from_scratch(ledger) if deep and not damaged else list(_sampled(ledger))
    return findings


def clocks(ledger: Ledger) -> list[str]:
    """What the notes of every press say of its counter's clock, and the jumps that loads have found, in sentences.

    None of it is a fault of the ledger: the times of the files are kept as they came.
    """
    snapshot = ledger.snapshot()
    known = found(ledger.keeper)
    told = {
        press_id: replace(known.get(press_id, Clock()), lags=lags_of(snapshot, press_id, newest_us))
        for press_id, newest_us in newest_readings(snapshot).items()
    }
    return clock_lines(told, Book.read(snapshot, plant_of(snapshot.plant_text())).calendar, ENGLISH)


def contradicting(ledger: Ledger) -> list[str]:
    """How many sets of rows cannot all be true, in a sentence; the ledger itself keeps them as they came."""
    return summary(all_of(ledger))


def _figures(ledger: Ledger) -> Iterator[Finding]:
    """Sums of figures that do not close."""
    doubted = {press_id for one in all_of(ledger) for press_id in one.presses}
    for name in AVAILABLE:
        sums = FIGURES[name].closes if name in FIGURES else ()
        if not sums:
            continue
        table = figure(ledger, name)
        counts = {column.name for column in FIGURES[name].columns if column.kind is Kind.COUNT}
        for total, parts in sums:
            differing = [
                row
                for row in table.to_dict("records")
                if not _closes(row[total], [row[part] for part in parts])
                or (total in counts and not _is_explained(row, total, parts, doubted))
            ]
            if differing:
                first = {key: differing[0][key] for key in list(table.columns)[:4]}
                yield Finding(
                    f"{name}: {total} is not {' + '.join(parts)} in {len(differing)} rows, the first {first}", _REFOLD
                )


def _closes(total: float, parts: Sequence[float]) -> bool:
    if any(value is None or pd.isna(value) for value in (total, *parts)):
        return True
    return math.isclose(total, math.fsum(parts), rel_tol=1e-9, abs_tol=1e-3)


def _is_explained(row: Mapping[Any, Any], total: str, parts: Sequence[str], doubted: Collection[str]) -> bool:
    """Whether a count may be empty: the others go beyond the whole, or rows of this press contradict one another."""
    known = [row[part] for part in parts if not pd.isna(row[part])]
    if len(known) == len(parts) or pd.isna(row[total]):
        return True
    return math.fsum(known) > row[total] or row.get("press_id") in doubted


def _sampled(ledger: Ledger) -> Iterator[Finding]:
    """Press-days, spread over presses and time, whose facts differ from a fold of their rows."""
    snapshot = ledger.snapshot()
    book = Book.read(snapshot, plant_of(snapshot.plant_text()))
    days = [(press, day) for press in snapshot.presses_with_strokes() for day in snapshot.stroke_days(press)]
    step = max(1, len(days) // SAMPLE)
    with ledger.writer(book.calendar) as writer:
        for press_id, day in days[::step]:
            try:
                fold = fold_day(writer, book, press_id, day)
            except DamagedPart:
                continue  # Told of with its file.
            if fold is not None:
                yield from _compared(writer, press_id, fold)


def _compared(snapshot: Snapshot, press_id: str, fold: Fold) -> Iterator[Finding]:
    for kind, rows in fold.facts.by_kind().items():
        names = FACTS[kind].names
        made = pd.DataFrame([(press_id, fold.day, *row) for row in rows], columns=list(names))
        stored = snapshot.facts(kind, press_id=press_id, day=fold.day)
        if _counted(made) != _counted(stored):
            what = f"{kind} of {press_id} on {fold.day}: {len(stored)} facts stored, {len(made)} others by a new fold"
            yield Finding(_with_strokes(what, kind, made, stored), _REFOLD)


def _with_strokes(what: str, kind: str, made: pd.DataFrame, stored: pd.DataFrame) -> str:
    if kind != "strokes":
        return what
    return f"{what}; strokes {stored['strokes'].sum():,} stored, {made['strokes'].sum():,} by the counters"


def _counted(facts: pd.DataFrame) -> Counter[tuple[object, ...]]:
    """The facts without their order; a value that is missing is the same however it is missing."""
    plain = facts.astype("object").where(facts.notna(), None)
    return Counter(tuple(_plain(value) for value in row) for row in plain.itertuples(index=False, name=None))


def _plain(value: object) -> object:
    return (value or None) if isinstance(value, str) else value if value is None else round(float(str(value)), 6)


def _from_scratch(ledger: Ledger) -> list[Finding]:
    """Facts that differ from those of a copy folded anew from its first reading on."""
    with tempfile.TemporaryDirectory(dir=ledger.root.parent, prefix="check-") as folder:
        copy = Path(folder) / "copy"
        backup(ledger, copy, link=True)
        with Ledger.open(copy) as other:
            book = Book.read(other.snapshot(), plant_of(other.snapshot().plant_text()))
            with other.writer(book.calendar) as writer:
                writer.put_book_fingerprint("")
                refold(writer, book, AffectedDays())
            return [
                Finding(
                    f"{kind} facts are not those of a fold from scratch", "restore a backup, or load into a new ledger"
                )
                for kind in FACTS
                if _counted(other.snapshot().facts(kind)) != _counted(other.snapshot(other.version - 1).facts(kind))
            ]
