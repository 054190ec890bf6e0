"""What people entered by hand: who, when, and each row as it stood before and after."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from monitor.ledger.catalog.schema import LOADS, ROWS
from monitor.ledger.folds import FoldReader
from shared.table import Table
from shared.tables import TABLES

Row = dict[str, Any]


@dataclass(frozen=True)
class Entered:
    """One entry: the load it stands in, its table, who made it, when [us], and the load it undoes (0 = none)."""

    load_id: int
    table: str
    by: str
    at_us: int
    undoes: int
    version: int


@dataclass(frozen=True)
class RowStay:
    """One row of a table for as long as it held: since version `added`, until `removed` (None = it holds)."""

    key: str
    row: Row
    load_id: int
    added: int
    removed: int | None


_ENTERED = (
    LOADS.c.load_id,
    LOADS.c.table,
    LOADS.c.entered_by.label("by"),
    LOADS.c.loaded_at.label("at_us"),
    LOADS.c.undoes,
    LOADS.c.added.label("version"),
)


class EntryReader(FoldReader):
    """Entries and the history of the rows they changed; an entry is a version of its own."""

    def entries(self, load_id: int | None = None, after: int = 0) -> list[Entered]:
        """Entries in the order they were made, or one of them; only those that came after a version."""
        query = sa.select(*_ENTERED).where(LOADS.c.entered_by != "", LOADS.c.refused == "")
        query = query.where(LOADS.c.added <= self.version, LOADS.c.added > after).order_by(LOADS.c.load_id)
        if load_id is not None:
            query = query.where(LOADS.c.load_id == load_id)
        return [Entered(**row._mapping) for row in self._all(query)]

    def changed_at(self, table: str, version: int) -> list[RowStay]:
        """Rows of a table that came or went with one version."""
        made = ROWS[table]
        return self._stays(TABLES[table], (made.c.added == version) | (made.c.removed == version))

    def stays(self, table: str, from_us: int, to_us: int, press_id: str | None = None) -> list[RowStay]:
        """Rows of a table that hold or ever held, whose time lies in [from_us, to_us) [us]."""
        contract, made = TABLES[table], ROWS[table]
        when = made.c[str(contract.time)]
        where = (when >= from_us) & (when < to_us)
        if press_id is not None and "press_id" in contract.columns:
            where &= made.c.press_id == press_id
        return self._stays(contract, where)

    def _stays(self, table: Table, where: sa.ColumnElement[bool]) -> list[RowStay]:
        made = ROWS[table.name]
        names = (*table.columns, "row_key", "load_id", "added", "removed")
        query = sa.select(*(made.c[name] for name in names)).where(where, made.c.added <= self.version)
        stays = []
        for *values, key, load_id, added, removed in self._all(query.order_by(made.c.row_id)):
            until = None if removed is None or removed > self.version else removed
            stays.append(RowStay(key, dict(zip(table.columns, values, strict=True)), load_id, added, until))
        return stays
