"""Keeps the facts in step with the rows: refolds the press-days that new rows affect, and no others."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass

from monitor.ledger import Fold, Writer
from monitor.plant.book import Book
from monitor.plant.records import records
from monitor.refold.affected_days import AffectedDays
from monitor.refold.press_folding import PressFolding
from monitor.refold.rejects import rebook
from shared.errors import DamagedPart

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Refolded:
    """How many press-days of how many presses were folded anew; `left` presses could not be: a file is damaged."""

    folds: int
    presses: int
    left: int = 0


def refold(writer: Writer, book: Book, affected: AffectedDays, progress: Progress | None = None) -> Refolded:
    """Fold every affected press-day again, and the open end and rejects that follow from them."""
    renewed = not writer.is_reckoned
    if renewed:
        writer.forget_facts()
        _look_at_all(writer, book, affected)
    anew = renewed or writer.book_fingerprint() != book.fingerprint
    presses = sorted(affected.presses.union(writer.presses_with_strokes() if anew else ()))
    folds = left = 0
    with ThreadPoolExecutor(1, "strokeledger-readings") as reader:
        for done, work in enumerate(
            _read_ahead(writer, book, affected=affected, presses=presses, anew=anew, reader=reader)
        ):
            try:
                folded = work.run()
            except DamagedPart:
                # The facts go on to hold as they are; a check names the file, and loading it again folds these days.
                work.put_off()
                left += 1
                continue
            rebook(writer, book, work.press_id, folded, affected.inspections.get(work.press_id, set()))
            folds += len(folded)
            if progress:
                progress(done + 1, len(presses))
    writer.put_reckoning()
    writer.put_book_fingerprint(book.fingerprint)
    return Refolded(folds, len(presses), left)


def _look_at_all(writer: Writer, book: Book, affected: AffectedDays) -> None:
    """Note every inspection there is as one to be booked."""
    for row in records(writer.rows("inspections")):
        affected.add_inspections(row["press_id"], book.day_of(row["time"]))


def _read_ahead(
    writer: Writer, book: Book, affected: AffectedDays, presses: Sequence[str], anew: bool, reader: Executor
) -> Iterator[PressFolding]:
    """Yield the folding of each press while the readings of the next one are on their way."""
    coming: PressFolding | None = None
    for press_id in presses:
        following = PressFolding(writer, book, press_id=press_id, affected=affected, anew=anew, reader=reader)
        if coming is not None:
            yield coming
        coming = following
    if coming is not None:
        yield coming


def fold_day(writer: Writer, book: Book, press_id: str, day: dt.date) -> Fold | None:
    """Fold one press-day again from the carry before it, leaving what is stored as it is; None without readings."""
    with ThreadPoolExecutor(1, "strokeledger-readings") as reader:
        work = PressFolding(
            writer, book, press_id=press_id, affected=AffectedDays(days={press_id: {day}}), anew=False, reader=reader
        )
        work.dirty &= {day}
        return next(iter(work.fold_only()), None)
