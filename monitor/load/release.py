"""Releases rows by hand that were set aside: as they came, or as a person edited them."""

from __future__ import annotations

import getpass
import time
from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.ledger import Ledger
from monitor.load.inspection_sums import TABLE as INSPECTIONS
from monitor.load.retry import Retry
from monitor.load.session import LoadSession
from monitor.plant.book import Book, plant_of
from monitor.refold.press_days import refold
from shared.calendar import Calendar
from shared.phrases import Phrase


@dataclass
class Released:
    """How many rows were released, why others stay set aside by id, and ids that are not set aside."""

    taken: int = 0
    stay: dict[int, Phrase] = field(default_factory=dict)
    unknown: list[int] = field(default_factory=list)
    version: int = 0


def release(
    ledger: Ledger,
    rows: Mapping[int, str | None],
    *,
    by: str = "",
    correct: bool = False,
    now_us: int | None = None,
) -> Released:
    """Read rows set aside again and merge those that hold now, in one transaction.

    `rows` gives by id the row as it was mended, as JSON, or None for the row as it came.  `by` is who lets them in,
    the user of this computer where it is empty.  With `correct`, rows that contradict stored ones replace them.  A
    row that is taken counts as new, repeated or corrected in the load it came with, no longer as set aside.
    `now_us` is the moment of it [us since 1970 UTC], that of the clock where it is left out.
    """
    plant = plant_of(ledger.snapshot().plant_text())
    with ledger.writer(Calendar(plant)) as writer:
        session = LoadSession(writer, plant, correct, time.time_ns() // 1_000 if now_us is None else now_us)
        retry = Retry(session)
        found = writer.set_aside_of(list(rows))
        edited = {row.id: text for row in found if (text := rows[row.id]) is not None and text != row.row}
        stay = retry.rows(found, edited, by or user())
        retry.waiting()
        for row in found:
            if why := retry.unbalanced.reasons.get((row.load_id, row.line)) if row.table == INSPECTIONS else None:
                stay[row.id] = why
        book = Book.read(writer, plant)
        refold(writer, book, affected := retry.affected(book))
        session.clocks.finish(writer, session.arrivals.presses_with_notes, affected.presses)
        version = writer.version if writer.changed else writer.version - 1
    known = {row.id for row in found}
    return Released(len(found) - len(stay), stay, sorted(set(rows) - known), version)


def user() -> str:
    """Name of the user of this computer, as far as it is known."""
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return "somebody"
