"""Stored rows with where they came from: the load, its file and the line there."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Any, NamedTuple

import sqlalchemy as sa

from monitor.ledger.catalog.schema import KEYS_A_QUERY, LOADS, PARTS, ROWS, live
from monitor.ledger.entries import EntryReader
from shared.tables import TABLES


class Placed(NamedTuple):
    """A stored row with its key, and the load and line of the file that it came by."""

    key: str
    load_id: int
    line: int
    row: dict[str, Any]


class PlacedReader(EntryReader):
    """Rows as records, times in microseconds since 1970 UTC, with load and line."""

    def placed(self, table: str, column: str, values: Collection[str]) -> list[Placed]:
        """Rows of which a column holds one of the values, as `lookup` gives them, with load and line they came by."""
        made = ROWS[table]
        return [row for some in _chunks(values) for row in self._placed(table, made.c[column].in_(some))]

    def placed_between(self, table: str, from_us: int | None, to_us: int | None, **equal: str | None) -> list[Placed]:
        """Rows whose time lies in [from_us, to_us) [us], None = no bound, in order of time.

        `equal` narrows to rows whose columns have the values given; None leaves a column open.
        """
        made, when = ROWS[table], ROWS[table].c[str(TABLES[table].time)]
        where = [made.c[name] == value for name, value in equal.items() if value is not None]
        where += [when >= from_us] if from_us is not None else []
        where += [when < to_us] if to_us is not None else []
        found = self._placed(table, *where)
        return sorted(found, key=lambda one: int(one.row[str(TABLES[table].time)]))

    def file_names(self, load_ids: Collection[int]) -> dict[int, str]:
        """The file of each load."""
        found: dict[int, str] = {}
        for some in _chunks(load_ids):
            rows = self._all(sa.select(LOADS.c.load_id, LOADS.c.file).where(LOADS.c.load_id.in_(some)))
            found |= {int(load_id): str(file) for load_id, file in rows}
        return found

    def read_between(self, press_id: str) -> tuple[int, int] | None:
        """The first and last moment that readings of a press speak of [us], None where it has none."""
        query = sa.select(sa.func.min(PARTS.c.min_us), sa.func.max(PARTS.c.max_us))
        query = query.where(PARTS.c.table == "strokes", PARTS.c.press_id == press_id, live(PARTS, self.version))
        first, last = self._all(query)[0]
        return None if first is None else (int(first), int(last))

    def _placed(self, table: str, *where: sa.ColumnElement[bool]) -> Iterator[Placed]:
        made, names = ROWS[table], TABLES[table].columns
        query = sa.select(made.c.row_key, made.c.load_id, made.c.line, *(made.c[name] for name in names))
        query = query.where(live(made, self.version), *where)
        query = query.order_by(made.c.load_id, made.c.line, made.c.row_key)
        for key, load_id, line, *row in self._all(query):
            yield Placed(key, load_id, line, dict(zip(names, row, strict=True)))


def _chunks(values: Collection[Any]) -> Iterator[list[Any]]:
    wanted = sorted(set(values))
    return (wanted[at : at + KEYS_A_QUERY] for at in range(0, len(wanted), KEYS_A_QUERY))
