"""Merging rows of the tables that are held in SQL."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice

import pyarrow as pa
import sqlalchemy as sa

from monitor.ledger.database import insert_rows
from monitor.ledger.outcome import Merge
from monitor.ledger.resolve import Identity, Keyed, Resolved, keyed_rows, resolve
from monitor.ledger.schema import KEYS_A_QUERY, ROWS, live
from monitor.ledger.values import Value, canonical, row_keys, stored_values
from shared.calendar import Calendar
from shared.table import Table


def merge_table(
    connection: sa.Connection,
    version: int,
    table: Table,
    rows: pa.Table,
    load_id: int,
    calendar: Calendar,
    correct: bool = False,
) -> Merge:
    """Merge a batch of rows into the stored ones of their keys."""
    rows = canonical(table, rows)
    columns = stored_values(table, rows)
    lines = rows.column("line").to_pylist()
    keys = row_keys(table, columns)
    stored = _stored(connection, table, keys, version)
    if not stored and len(set(keys)) == len(keys):
        resolved = Resolved(accepted=list(range(len(keys))), new=len(keys))
    else:
        incoming = keyed_rows(table, columns, keys, [load_id] * len(keys), lines, range(len(keys)))
        history = _History(connection, table)
        resolved = resolve(table, incoming, stored, load_id if correct else None, history, calendar)
    _take_out(connection, table, resolved.replaced, version)
    _insert(connection, table, resolved.accepted, (*columns, keys, lines), load_id, version)
    result = Merge(resolved.new, resolved.repeated, resolved.corrected, resolved.conflicts)
    touch(result, table, columns, resolved, calendar)
    return result


def touch(
    result: Merge,
    table: Table,
    columns: Sequence[Sequence[Value]],
    resolved: Resolved,
    calendar: Calendar,
) -> None:
    """Note the press-days of rows that came and of those they replaced."""
    if table.time is None:
        return
    when = table.columns.index(table.time)
    where = table.columns.index("press_id") if "press_id" in table.columns else None
    came = ((columns[when][row], columns[where][row] if where is not None else None) for row in resolved.accepted)
    # The values of a stored row leave out recorded_at, which stands last in every contract.
    went = ((row.values[when], row.values[where] if where is not None else None) for row in resolved.replaced)
    for us, press_id in (*came, *went):
        if not isinstance(us, int):
            continue
        result.reach_back(us)
        if press_id:
            result.touch(str(press_id), calendar.plant_day(us))


def _stored(connection: sa.Connection, table: Table, keys: Sequence[str], version: int) -> dict[str, Keyed]:
    made = ROWS[table.name]
    return {row.key: row for row in _select(connection, table, keys, live(made, version))}


class _History:
    """Looks up the rows of keys that were taken out at some version."""

    def __init__(self, connection: sa.Connection, table: Table) -> None:
        self._connection = connection
        self._table = table

    def __call__(self, keys: Iterable[str]) -> set[Identity]:
        removed = ROWS[self._table.name].c.removed.is_not(None)
        return {row.identity for row in _select(self._connection, self._table, keys, removed)}


def _select(
    connection: sa.Connection, table: Table, keys: Iterable[str], condition: sa.ColumnElement[bool]
) -> Iterator[Keyed]:
    made = ROWS[table.name]
    names = (*table.columns, "row_key", "load_id", "line", "row_id")
    query = sa.select(*(made.c[name] for name in names)).where(condition)
    for some in _chunks(keys):
        found = connection.execute(query.where(made.c.row_key.in_(some))).all()
        if found:
            columns: list[list[Value]] = [list(column) for column in zip(*found, strict=True)]
            *values, row_keys_, load_ids, lines, row_ids = columns
            yield from keyed_rows(table, values, row_keys_, load_ids, lines, row_ids)  # type: ignore[arg-type]


def _chunks(keys: Iterable[str]) -> Iterator[list[str]]:
    distinct = iter(dict.fromkeys(keys))
    while some := list(islice(distinct, KEYS_A_QUERY)):
        yield some


def _take_out(connection: sa.Connection, table: Table, replaced: Sequence[Keyed], version: int) -> None:
    if replaced:
        made = ROWS[table.name]
        query = sa.update(made).where(made.c.row_id == sa.bindparam("given_id")).values(removed=version)
        connection.execute(query, [{"given_id": row.place} for row in replaced])


def _insert(
    connection: sa.Connection,
    table: Table,
    accepted: Sequence[int],
    columns: Sequence[Sequence[Value]],
    load_id: int,
    version: int,
) -> None:
    names = (*table.columns, "row_key", "line", "load_id", "added")
    taken = [[column[row] for row in accepted] for column in columns]
    size = len(accepted)
    rows = list(zip(*taken, [load_id] * size, [version] * size, strict=True))
    insert_rows(connection, ROWS[table.name], names, rows)
