"""Rows that a person enters, loaded like any other: checked, merged and folded, all or nothing.

An entry is a version of its own.  Who made it and when, and what stood there before, are kept; undoing it is an entry
too, which puts back what was before.
"""

from __future__ import annotations

import datetime as dt
import getpass
import hashlib
import json
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import pyarrow as pa

from monitor.enter import ENTERED
from monitor.enter.history import RowChange, changes_of, overtaken_by, undoing
from monitor.intake import Plausible, reread
from monitor.ledger import Entered, Ledger, Snapshot, Writer
from monitor.load.recount import recount
from monitor.plant.book import Book, plant_of
from monitor.refold.affected_days import AffectedDays, add_records
from monitor.refold.press_days import refold
from shared.arrow import arrow_schema
from shared.calendar import Calendar
from shared.errors import RequestError
from shared.fields import Kind
from shared.identifiers import as_identifier
from shared.phrases import phrase
from shared.plant import Plant
from shared.reasons.expected import ONE_OF
from shared.table import Table
from shared.tables import TABLES

Row = Mapping[str, Any]

_LONGEST = 500
_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


@dataclass(frozen=True)
class Receipt:
    """An entry that was stored: its load, by which it can be undone, and the version that holds it."""

    load_id: int
    version: int


def enter(
    ledger: Ledger, table: str, row: Row, *, by: str = "", now_us: int | None = None, seen: int | None = None
) -> int:
    """Enter a row (times in microseconds since 1970 UTC) and return the version that holds it; see `enter_rows`."""
    return enter_rows(ledger, table, lambda _: [row], by=by, now_us=now_us, seen=seen).version


def enter_rows(
    ledger: Ledger,
    table: str,
    make: Callable[[Snapshot], Sequence[Row]],
    *,
    by: str = "",
    now_us: int | None = None,
    seen: int | None = None,
) -> Receipt:
    """Enter the rows that `make` returns for the ledger as it is, and fold again what they affect.

    A row of a key that exists replaces it from this version on; the earlier one stays readable at earlier versions.
    `by` is who enters it, the user of this computer where empty.  `seen` is the version that this person saw: where
    somebody else has entered something about the same since, Overtaken says who and what, and nothing is entered.
    Raises RequestError for a table that is not entered or a row that does not hold.
    """
    if table not in ENTERED:
        tables = phrase(ONE_OF, words=", ".join(ENTERED))
        raise RequestError(phrase("enter"), repr(table), tables, phrase("load the row as a file"))
    now_us = time.time_ns() // 1_000 if now_us is None else now_us
    with _entry(ledger, table, by, now_us) as entry:
        rows = [_clean({**row, "recorded_at": now_us}) for row in make(entry.writer)]
        for row in rows:
            _check(entry.contract, row)
            if seen is not None:
                overtaken_by(entry.writer, entry.contract, row, seen)
        entry.begin([dict(row) for row in rows])
        entry.put(_reread(entry, rows))
    return entry.receipt


def undo(ledger: Ledger, load_id: int, *, by: str = "", now_us: int | None = None) -> Receipt:
    """Put back what stood there before an entry; that it was made stays in the history.

    Raises Overtaken where what it entered has been changed since, RequestError where there is no such entry.
    """
    now_us = time.time_ns() // 1_000 if now_us is None else now_us
    found = _entry_of(ledger.snapshot(), load_id)
    with _entry(ledger, found.table, by, now_us, undoes=load_id) as entry:
        changes = changes_of(entry.writer, found)
        undoing(entry.writer, found, changes)
        entry.begin([load_id])
        entry.put_back(changes)
    return entry.receipt


def user() -> str:
    """Name of the user of this computer, as far as it is known."""
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return "somebody"


class _Entry:
    """One entry under way in a version of its own."""

    def __init__(self, writer: Writer, plant: Plant, table: str, by: str, now_us: int, undoes: int) -> None:
        self.writer = writer
        self.plant = plant
        self.contract = TABLES[table]
        self.by = _printable(by).strip()[:_LONGEST] or user()
        self.now_us = now_us
        self.undoes = undoes
        self.receipt = Receipt(0, 0)
        self._counts = {"read": 0, "new": 0, "repeated": 0, "corrected": 0}

    def begin(self, said: object) -> None:
        """Begin the load; its digest is that of what is said, with the moment."""
        text = json.dumps([said, self.now_us, self.writer.version], sort_keys=True, default=str).encode()
        load_id = self.writer.begin_load(
            f"entered by {self.by}",
            self.contract.name,
            hashlib.sha256(text).hexdigest(),
            len(text),
            entered_by=self.by,
            undoes=self.undoes,
            correct=True,
        )
        self.receipt = Receipt(load_id, self.writer.version)

    def put(self, rows: pa.Table) -> None:
        """Merge rows in the place of those of their keys."""
        if len(rows):
            merged = self.writer.merge(self.contract.name, rows, self.receipt.load_id, entered=True)
            recount(self.writer, self.contract.name, merged)
            for name in ("new", "repeated", "corrected"):
                self._counts[name] += getattr(merged, name)
            self._counts["read"] += len(rows)

    def put_back(self, changes: Sequence[RowChange]) -> None:
        """Put back each row as it was before the changes."""
        before = [{**change.before, "recorded_at": self.now_us} for change in changes if change.before]
        self.put(_as_rows(self.contract, before))
        gone = self.writer.withdraw(self.contract.name, [change.key for change in changes if not change.before])
        self._counts["read"] += gone
        self._counts["corrected"] += gone

    def finish(self) -> None:
        """End the load and fold again what new and removed rows affect."""
        read, new, repeated, corrected = (self._counts[name] for name in ("read", "new", "repeated", "corrected"))
        self.writer.finish_load(
            self.receipt.load_id, rows=read, read=read, new=new, repeated=repeated, corrected=corrected
        )
        book, affected = Book.read(self.writer, self.plant), AffectedDays()
        table = self.contract.name
        rows = [stay.row for stay in self.writer.changed_at(table, self.writer.version)]
        add_records(table, rows, affected, book, self.writer)
        if affected.presses:
            refold(self.writer, book, affected)


@contextmanager
def _entry(ledger: Ledger, table: str, by: str, now_us: int, undoes: int = 0) -> Iterator[_Entry]:
    plant = plant_of(ledger.snapshot().plant_text())
    with ledger.writer(Calendar(plant)) as writer:
        entry = _Entry(writer, plant, table=table, by=by, now_us=now_us, undoes=undoes)
        yield entry
        entry.finish()


def _entry_of(snapshot: Snapshot, load_id: int) -> Entered:
    found = snapshot.entries(load_id)
    if not found:
        seen, expected = phrase("no entry {number}", number=load_id), phrase("something that was entered by hand")
        raise RequestError(phrase("undo"), seen, expected, phrase("look at the history"))
    return found[0]


def _clean(row: Row) -> Row:
    """Return the row with text that shows, and nothing that does not."""
    return {
        name: _printable(as_identifier(value)).strip() if isinstance(value, str) else value
        for name, value in row.items()
    }


def _printable(text: str) -> str:
    return "".join(sign if sign.isprintable() or sign == "\n" else " " for sign in text)


def _check(contract: Table, row: Row) -> None:
    for name in row:
        if name not in contract.columns:
            columns = phrase(ONE_OF, words=", ".join(contract.columns))
            _refuse(contract, name, phrase("a column the table does not have"), columns)
    for name in contract.required:
        if row.get(name) in (None, ""):
            _refuse(contract, name, phrase("empty"), phrase("a value"))
    for name, value in row.items():
        field = contract.field(name)
        if field.choices and value not in (None, "", *field.choices):
            _refuse(contract, name, repr(value), phrase(ONE_OF, words=", ".join(field.choices)))
        if isinstance(value, str) and len(value) > _LONGEST:
            seen, most = phrase("{n} characters", n=len(value)), phrase("no more than {n}", n=_LONGEST)
            _refuse(contract, name, seen, most)
    for first, last in contract.ordered:
        if row.get(first) is not None and row.get(last) is not None and row[first] > row[last]:
            _refuse(contract, last, phrase("before {first}", first=first), phrase("{first} first", first=first))


def _refuse(contract: Table, column: str, seen: str, expected: str) -> None:
    where = phrase("{table}, {column}", table=contract.name, column=column)
    raise RequestError(where, seen, expected, phrase("enter it so"))


def _reread(entry: _Entry, rows: Sequence[Row]) -> pa.Table:
    """Return the rows as intake takes them from a file: ranges kept, and what they refer to known."""
    texts = [(line, json.dumps(_as_text(entry.contract, row))) for line, row in enumerate(rows, 1)]
    known = _known(entry.writer, entry.contract, rows)
    plausible = Plausible(entry.plant.times, entry.now_us)
    zone, calendar = entry.plant.timezone, Calendar(entry.plant)
    batch = reread(entry.contract.name, texts, zone=zone, known=known, plausible=plausible, calendar=calendar)
    for rejected in batch.rejected:
        raise RequestError(entry.contract.name, rejected.reason, phrase("a row that holds"), phrase("enter it so"))
    return batch.rows


def _known(snapshot: Snapshot, contract: Table, rows: Sequence[Row]) -> dict[str, frozenset[str]]:
    """Return which of the names that the rows use are known, by table."""
    known: dict[str, frozenset[str]] = {}
    for column, tables in {**contract.refers, **contract.mentions}.items():
        names = {str(row[column]) for row in rows if row.get(column)}
        for table in tables:
            own = TABLES[table].id_column
            found = frozenset(str(row[own]) for row in snapshot.lookup(table, own, names))
            known[table] = known.get(table, frozenset()) | found
    return known


def _as_text(contract: Table, row: Row) -> dict[str, str | None]:
    return {name: _cell(contract.field(name).kind, row.get(name)) for name in contract.columns}


def _cell(kind: Kind, value: object) -> str | None:
    if value is None:
        return None
    if kind is Kind.TIME and isinstance(value, int):
        return (_EPOCH + dt.timedelta(microseconds=value)).isoformat()
    return str(value)


def _as_rows(contract: Table, rows: Sequence[Row]) -> pa.Table:
    """Return rows as the ledger holds them (times in microseconds, dates as ISO text) as canonical ones."""
    columns = {}
    for field in arrow_schema(contract):
        values = [row.get(field.name) for row in rows]
        if pa.types.is_date(field.type):
            values = [None if value is None else dt.date.fromisoformat(str(value)) for value in values]
        columns[field.name] = pa.array(values, field.type)
    return pa.table({**columns, "line": pa.array(range(1, len(rows) + 1), pa.int64())})
