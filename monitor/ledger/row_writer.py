"""Changing rows of the catalogue as part of one version: rows end and begin, nothing is changed in place."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import nullcontext
from typing import Any

import sqlalchemy as sa

from monitor.ledger.bulk.files import PartFiles
from monitor.ledger.bulk.parts import BulkPart, PartWriter
from monitor.ledger.catalog.database import insert_rows
from monitor.ledger.catalog.schema import KEYS_A_QUERY
from monitor.ledger.snapshot import Snapshot
from shared.calendar import Calendar


class RowWriter(Snapshot):
    """A version being written: what it reads includes what it has written."""

    def __init__(
        self,
        connection: sa.Connection,
        files: PartFiles,
        version: int,
        calendar: Calendar,
        now_us: Callable[[], int] = lambda: time.time_ns() // 1_000,
    ) -> None:
        super().__init__(lambda: nullcontext(connection), files, version)
        self.parts = PartWriter(connection, files, version)
        self.changed = False
        self._connection = connection
        self._given = calendar
        self._now_us = now_us

    def _insert(self, table: sa.Table, names: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> None:
        if rows:
            self.changed = True
            insert_rows(self._connection, table, tuple(names), rows)

    def _ended(self, table: sa.Table, press_id: str, days: Sequence[str]) -> int:
        """End the rows of a press and some days; returns how many there were."""
        count = 0
        for at in range(0, len(days), KEYS_A_QUERY):
            where = (table.c.press_id == press_id) & table.c.day.in_(days[at : at + KEYS_A_QUERY])
            count += self._end(table, where)
        return count

    def _end(self, table: sa.Table, condition: sa.ColumnElement[bool]) -> int:
        """End rows with this version, those that began with it, never seen, at once; returns how many there were."""
        gone = self._connection.execute(sa.delete(table).where(condition, table.c.added == self.version))
        ended = sa.update(table).where(condition, table.c.removed.is_(None)).values(removed=self.version)
        count = gone.rowcount + self._connection.execute(ended).rowcount
        self.changed = self.changed or count > 0
        return count

    def _execute(self, query: sa.Executable, rows: Sequence[Mapping[str, object]] | None = None) -> None:
        self.changed = True
        self._connection.execute(query, rows) if rows is not None else self._connection.execute(query)

    def _parts(
        self, table: str, press_id: str | None, from_us: int | None = None, to_us: int | None = None
    ) -> list[BulkPart]:
        self.parts.wait()
        return super()._parts(table, press_id, from_us, to_us)
