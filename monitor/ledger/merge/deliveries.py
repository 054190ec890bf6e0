"""The deliveries of rows that do not hold, and where the files stand that rows came by."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from functools import cached_property
from itertools import islice
from pathlib import PurePath
from typing import Any

import sqlalchemy as sa

from monitor.ledger.catalog.database import insert_rows
from monitor.ledger.catalog.schema import DELIVERIES, KEYS_A_QUERY, LOADS
from monitor.ledger.catalog.values import Value
from monitor.ledger.merge.accounts import Delivery, Order

#: A stroke reading's key: press and time [us].
Moment = tuple[str, int]
Kept = Mapping[Any, Iterable[tuple[Delivery, bool]]]


class Deliveries:
    """Deliveries kept in the catalogue; `of_load` makes one from a row of a load."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection
        self._loads: dict[int, tuple[str, str, int]] = {}

    def of_load(
        self, values: tuple[Value, ...], recorded_at: int, load_id: int, line: int, place: int = -1
    ) -> Delivery:
        """A delivery of a row by a load."""
        stem, file, given_at = self._load(load_id)
        return Delivery(
            values, recorded_at, given_at=given_at, order=Order(stem, file, load_id, line), load_id=load_id, place=place
        )

    def given_at(self, load_id: int) -> int:
        """When a load was given as a correction [us], 0 where it was not."""
        return self._load(load_id)[2]

    @cached_property
    def corrected(self) -> bool:
        """Whether anything was ever given as a correction, by this load too."""
        return bool(self._connection.scalar(sa.select(sa.func.max(LOADS.c.given_at))))

    def yields(self, load_id: int, other: int) -> bool:
        """Whether the rows of a load repeat those of another, though they came first."""
        return (*self._load(load_id)[:2], load_id) > (*self._load(other)[:2], other)

    def _load(self, load_id: int) -> tuple[str, str, int]:
        if load_id not in self._loads:
            names = (LOADS.c.file, LOADS.c.given_at)
            file, given_at = self._connection.execute(sa.select(*names).where(LOADS.c.load_id == load_id)).one()
            self._loads[load_id] = (PurePath(file).stem, file, given_at)
        return self._loads[load_id]

    def of_keys(self, table: str, keys: Collection[str]) -> dict[str, list[Delivery]]:
        """Those that are kept of rows of these keys."""
        found: dict[str, list[Delivery]] = defaultdict(list)
        if not self._any(table):
            return found
        query = sa.select(DELIVERIES).where(DELIVERIES.c.table == table)
        for some in chunks(keys):
            for row in self._connection.execute(query.where(DELIVERIES.c.row_key.in_(some))):
                found[row.row_key].append(self._made(row))
        return found

    def of_times(self, press_id: str, from_us: int, to_us: int) -> dict[int, list[Delivery]]:
        """Those that are kept of readings of a press in [from_us, to_us), both included [us], by their time."""
        found: dict[int, list[Delivery]] = defaultdict(list)
        of_press = (DELIVERIES.c.table == "strokes") & (DELIVERIES.c.press_id == press_id)
        query = sa.select(DELIVERIES).where(of_press, DELIVERIES.c.time_us >= from_us, DELIVERIES.c.time_us <= to_us)
        for row in self._connection.execute(query):
            found[row.time_us].append(self._made(row))
        return found

    def keep(self, table: str, kept: Kept) -> None:
        """Keep, of each key, these deliveries and no others, with whether they are set aside."""
        gone = [key for key in kept if isinstance(key, str)]
        for some in chunks(gone):
            where = (DELIVERIES.c.table == table) & DELIVERIES.c.row_key.in_(some)
            self._connection.execute(sa.delete(DELIVERIES).where(where))
        moments = [{"given_press": key[0], "given_us": key[1]} for key in kept if not isinstance(key, str)]
        if moments:
            of_press = (DELIVERIES.c.table == table) & (DELIVERIES.c.press_id == sa.bindparam("given_press"))
            self._connection.execute(
                sa.delete(DELIVERIES).where(of_press, DELIVERIES.c.time_us == sa.bindparam("given_us")), moments
            )
        names = ("table", "row_key", "press_id", "time_us", "said", "recorded_at", "load_id", "line", "lost")
        rows = [
            (table, *_where(key), json.dumps(one.values), one.recorded_at, one.load_id, one.order.line, int(lost))
            for key, some in kept.items()
            for one, lost in some
        ]
        insert_rows(self._connection, DELIVERIES, names, rows)

    def forget(self, table: str, load_id: int, lines: Collection[int]) -> None:
        """Forget the deliveries of lines of a load that are set aside: they are let in."""
        where = (DELIVERIES.c.table == table) & (DELIVERIES.c.load_id == load_id) & (DELIVERIES.c.lost == 1)
        for some in chunks(lines):
            self._connection.execute(sa.delete(DELIVERIES).where(where, DELIVERIES.c.line.in_(some)))

    def _any(self, table: str) -> bool:
        query = sa.select(DELIVERIES.c.delivery_id).where(DELIVERIES.c.table == table).limit(1)
        return self._connection.scalar(query) is not None

    def _made(self, row: Any) -> Delivery:
        return self.of_load(tuple(json.loads(row.said)), row.recorded_at, row.load_id, row.line)


def _where(key: str | Moment) -> tuple[str, str, int]:
    return (key, "", 0) if isinstance(key, str) else ("", *key)


def chunks(keys: Iterable[Any]) -> Iterable[list[Any]]:
    """Distinct keys, as many at a time as a query takes."""
    distinct = iter(dict.fromkeys(keys))
    while some := list(islice(distinct, KEYS_A_QUERY)):
        yield some
