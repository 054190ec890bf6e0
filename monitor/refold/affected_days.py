"""Which press-days must be folded again because of new rows of each table."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import pyarrow as pa

from monitor.ledger import Snapshot
from monitor.plant.book import Book, Record
from monitor.plant.records import records
from monitor.refold.notes import OPEN_ENDED_US
from shared.durations import SECOND_US
from shared.tables import TABLES


@dataclass
class AffectedDays:
    """Press-days with new readings, moments and spans [us] that notes are about, days whose inspections changed."""

    days: dict[str, set[dt.date]] = field(default_factory=dict)
    moments: dict[str, set[int]] = field(default_factory=dict)
    spans: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    inspections: dict[str, set[dt.date]] = field(default_factory=dict)

    def add_moments(self, press_id: str, *moments_us: int | None) -> None:
        """Add moments [us] that notes about a press name."""
        self.moments.setdefault(press_id, set()).update(us for us in moments_us if us is not None)

    def add_span(self, press_id: str, from_us: int, to_us: int | None) -> None:
        """Add a span [us] that a note about a press covers; None = it has no end yet."""
        self.spans.setdefault(press_id, []).append((from_us, from_us + OPEN_ENDED_US if to_us is None else to_us))

    def add_inspections(self, press_id: str, day: dt.date) -> None:
        """Add a plant day of a press whose inspections changed."""
        self.inspections.setdefault(press_id, set()).add(day)

    @property
    def presses(self) -> set[str]:
        """Return the presses with anything to fold again."""
        return {*self.days, *self.moments, *self.spans, *self.inspections}


def add_rows(table: str, rows: pa.Table, affected: AffectedDays, book: Book, ledger: Snapshot) -> None:
    """Add what rows of a table affect; counter readings are added by their days."""
    if TABLES[table].moments or table in _BY_TABLE:
        add_records(table, records(rows), affected, book, ledger)


def add_records(table: str, rows: Sequence[Record], affected: AffectedDays, book: Book, ledger: Snapshot) -> None:
    """Add what rows affect that are records, times in microseconds since 1970 UTC."""
    moments, add = TABLES[table].moments, _BY_TABLE.get(table)
    if moments:
        for row in rows:
            affected.add_moments(row["press_id"], *(row.get(name) for name in moments))
    if add is not None:
        add(rows, affected, book, ledger)


def _stops(rows: Sequence[Record], affected: AffectedDays, book: Book, ledger: Snapshot) -> None:
    edge_us = round(book.plant.entered_edge_s * SECOND_US)
    for row in rows:
        end_us = row.get("end_at")
        affected.add_span(row["press_id"], row["start_at"] - edge_us, None if end_us is None else end_us + edge_us)


def _inspections(rows: Sequence[Record], affected: AffectedDays, book: Book, ledger: Snapshot) -> None:
    for row in rows:
        affected.add_inspections(row["press_id"], book.calendar.plant_day(row["time"]))
    back = {row["rechecks"] for row in rows if row.get("rechecks")}
    _looks_around({row["inspection_id"] for row in rows}, back, affected, book, ledger)


def _dispositions(rows: Sequence[Record], affected: AffectedDays, book: Book, ledger: Snapshot) -> None:
    _looks_around(set(), {row["inspection_id"] for row in rows}, affected, book, ledger)


def _containers(rows: Sequence[Record], affected: AffectedDays, book: Book, ledger: Snapshot) -> None:
    _looked_into({row["container_id"] for row in rows}, affected, book, ledger)


def _repacks(rows: Sequence[Record], affected: AffectedDays, book: Book, ledger: Snapshot) -> None:
    _looked_into({row["to_container"] for row in rows}, affected, book, ledger)


def _looked_into(names: set[str], affected: AffectedDays, book: Book, ledger: Snapshot) -> None:
    """Add the inspections of containers, and of those that pieces were packed over into from them."""
    seen: set[str] = set()
    while names:
        seen |= names
        names = {row["to_container"] for row in ledger.lookup("repacks", "from_container", names)} - seen
    for row in ledger.lookup("inspections", "container_id", seen):
        affected.add_inspections(row["press_id"], book.calendar.plant_day(row["time"]))


def _looks_around(names: set[str], back: set[str], affected: AffectedDays, book: Book, ledger: Snapshot) -> None:
    """Add the inspections `back`, those that they are rechecks of, and all rechecks of those and of `names`."""
    seen, ahead, back = names | back, names, back - names
    while ahead or back:
        found = ledger.lookup("inspections", "inspection_id", back)
        found += ledger.lookup("inspections", "rechecks", ahead | back)
        for row in found:
            affected.add_inspections(row["press_id"], book.calendar.plant_day(row["time"]))
        ahead = {row["inspection_id"] for row in found} - seen
        back = {row["rechecks"] for row in found if row["rechecks"]} - seen - ahead
        seen |= ahead | back


#: What rows of a table bear on beyond the days of their moments.
_BY_TABLE: dict[str, Callable[[Sequence[Record], AffectedDays, Book, Snapshot], None]] = {
    "stops": _stops,
    "inspections": _inspections,
    "dispositions": _dispositions,
    "containers": _containers,
    "repacks": _repacks,
}
