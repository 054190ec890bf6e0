"""What the rows of one load bring, until facts are folded from it: days with readings, rows of other tables, names."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

import pyarrow as pa
import pyarrow.compute as pc

from monitor.intake import Ref
from monitor.ledger import Snapshot
from monitor.plant.book import Book, Record
from monitor.refold.affected_days import AffectedDays, add_records, add_rows
from shared.calendar import Calendar
from shared.tables import TABLES

#: Tables that say when a press stood.
_STANDSTILLS = ("coil_changes", "die_changes", "stops")


@dataclass
class Arrivals:
    """Days with new readings by press, new rows of other tables, rows they replaced, and names rows may wait for."""

    days: dict[str, set[dt.date]] = field(default_factory=dict)
    rows: list[tuple[str, pa.Table]] = field(default_factory=list)
    replaced: list[tuple[str, Sequence[Record]]] = field(default_factory=list)
    names: set[Ref] = field(default_factory=set)

    def copy(self) -> Arrivals:
        """Return what has arrived so far, to go back to where a file is refused."""
        days = {press_id: set(days) for press_id, days in self.days.items()}
        return Arrivals(days, list(self.rows), list(self.replaced), set(self.names))

    def add(self, table: str, rows: pa.Table, press_days: set[tuple[str, dt.date]]) -> None:
        """Add rows of a table; of counter readings only the press-days are kept."""
        if table != "strokes":
            self.rows.append((table, rows))
            return
        for press_id, day in press_days:
            self.days.setdefault(press_id, set()).add(day)

    def add_names(self, table: str, rows: pa.Table) -> None:
        """Add the ids in rows of a table, for which other rows may have waited."""
        names = rows.column(TABLES[table].id_column).unique().to_pylist()
        self.names |= {(table, name) for name in names}

    def take_names(self) -> set[Ref]:
        """Return the names that have arrived since this was asked last."""
        names, self.names = self.names, set()
        return names

    def values(self, table: str, column: str) -> set[str]:
        """Return the values in a column of the new rows of a table."""
        return {
            value for name, rows in self.rows if name == table for value in rows.column(column).unique().to_pylist()
        }

    @property
    def presses_with_notes(self) -> set[str]:
        """Return the presses whose new notes say when they stood."""
        return {press_id for table in _STANDSTILLS for press_id in self.values(table, "press_id")}

    def since_us(self, calendar: Calendar) -> int | None:
        """Return the earliest moment of the new rows [us], None where they have none."""
        times = [calendar.day_start_us(min(days)) for days in self.days.values() if days]
        for table, rows in self.rows:
            column = TABLES[table].time or ""
            if TABLES[table].group == "event" and column in rows.column_names:
                first = pc.min(rows.column(column).cast(pa.int64())).as_py()
                times += [] if first is None else [first]
        return min(times, default=None)

    def affected(self, book: Book, ledger: Snapshot) -> AffectedDays:
        """Return which press-days and moments must be folded anew because of these rows."""
        affected = AffectedDays(days=dict(self.days))
        for table, rows in self.rows:
            add_rows(table, rows, affected, book, ledger)
        for table, replaced in self.replaced:
            add_records(table, replaced, affected, book, ledger)
        return affected
