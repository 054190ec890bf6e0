"""Which press-days new rows of each table bear on."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pyarrow as pa

from monitor.ledger import Snapshot
from monitor.plant.book import Book, Record
from monitor.plant.records import records
from monitor.refold.affected import Touched
from shared.durations import SECOND_US
from shared.tables import TABLES


def touch(table: str, rows: pa.Table, touched: Touched, book: Book, ledger: Snapshot) -> None:
    """Note what rows of a table, other than counter readings, bear on."""
    if TABLES[table].moments or table in _BY_TABLE:
        touch_rows(table, records(rows), touched, book, ledger)


def touch_rows(table: str, rows: Sequence[Record], touched: Touched, book: Book, ledger: Snapshot) -> None:
    """Note what rows bear on that are records, times in microseconds since 1970 UTC."""
    moments, note = TABLES[table].moments, _BY_TABLE.get(table)
    if moments:
        for row in rows:
            touched.at(row["press_id"], *(row.get(name) for name in moments))
    if note is not None:
        note(rows, touched, book, ledger)


def _stops(rows: Sequence[Record], touched: Touched, book: Book, ledger: Snapshot) -> None:
    edge_us = round(book.plant.entered_edge_s * SECOND_US)
    for row in rows:
        end_us = row.get("end_at")
        touched.during(row["press_id"], row["start_at"] - edge_us, None if end_us is None else end_us + edge_us)


def _inspections(rows: Sequence[Record], touched: Touched, book: Book, ledger: Snapshot) -> None:
    for row in rows:
        touched.looked(row["press_id"], book.calendar.plant_day(row["time"]))
    back = {row["rechecks"] for row in rows if row.get("rechecks")}
    _looks_around({row["inspection_id"] for row in rows}, back, touched, book, ledger)


def _dispositions(rows: Sequence[Record], touched: Touched, book: Book, ledger: Snapshot) -> None:
    _looks_around(set(), {row["inspection_id"] for row in rows}, touched, book, ledger)


def _containers(rows: Sequence[Record], touched: Touched, book: Book, ledger: Snapshot) -> None:
    _looked_into({row["container_id"] for row in rows}, touched, book, ledger)


def _repacks(rows: Sequence[Record], touched: Touched, book: Book, ledger: Snapshot) -> None:
    _looked_into({row["to_container"] for row in rows}, touched, book, ledger)


def _looked_into(names: set[str], touched: Touched, book: Book, ledger: Snapshot) -> None:
    """Note the inspections of containers, and of those that pieces were packed over into from them."""
    seen: set[str] = set()
    while names:
        seen |= names
        names = {row["to_container"] for row in ledger.lookup("repacks", "from_container", names)} - seen
    for row in ledger.lookup("inspections", "container_id", seen):
        touched.looked(row["press_id"], book.calendar.plant_day(row["time"]))


def _looks_around(names: set[str], back: set[str], touched: Touched, book: Book, ledger: Snapshot) -> None:
    """Note the inspections `back`, those that they are rechecks of, and all rechecks of those and of `names`."""
    seen, ahead, back = names | back, names, back - names
    while ahead or back:
        found = ledger.lookup("inspections", "inspection_id", back)
        found += ledger.lookup("inspections", "rechecks", ahead | back)
        for row in found:
            touched.looked(row["press_id"], book.calendar.plant_day(row["time"]))
        ahead = {row["inspection_id"] for row in found} - seen
        back = {row["rechecks"] for row in found if row["rechecks"]} - seen - ahead
        seen |= ahead | back


#: What rows of a table bear on beyond the days of their moments.
_BY_TABLE: dict[str, Callable[[Sequence[Record], Touched, Book, Snapshot], None]] = {
    "stops": _stops,
    "inspections": _inspections,
    "dispositions": _dispositions,
    "containers": _containers,
    "repacks": _repacks,
}
