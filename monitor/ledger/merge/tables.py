"""Merging rows of the tables that are held in SQL."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import pyarrow as pa
import sqlalchemy as sa

from monitor.ledger.catalog.database import insert_rows
from monitor.ledger.catalog.schema import ROWS, live
from monitor.ledger.catalog.values import Value, canonical, row_keys, stored_values
from monitor.ledger.merge.accounts import Delivery
from monitor.ledger.merge.deliveries import Deliveries, chunks
from monitor.ledger.merge.outcome import Merge
from monitor.ledger.merge.resolve import Identity, Keyed, Resolved, as_record, keyed_rows, resolve
from shared.calendar import Calendar
from shared.table import Table


def merge_table(
    connection: sa.Connection,
    version: int,
    table: Table,
    rows: pa.Table,
    load_id: int,
    calendar: Calendar,
    deliveries: Deliveries,
    known_since: int,
    entered: bool = False,
) -> Merge:
    """Merge a batch of rows into the stored ones of their keys.

    Rows that went up to the version `known_since` are of a time when deliveries were not kept.  What is `entered` holds
    against whatever is stored.
    """
    rows = canonical(table, rows)
    columns = stored_values(table, rows)
    lines = rows.column("line").to_pylist()
    keys = row_keys(table, columns)
    stored = stored_rows(connection, table, keys, version, deliveries)
    kept = deliveries.of_keys(table.name, keys)
    if not stored and not kept and len(set(keys)) == len(keys):
        resolved = Resolved(accepted=list(range(len(keys))), new=len(keys))
    else:
        if entered:
            _make_latest(columns[table.columns.index("recorded_at")], keys, stored, kept)
        incoming = keyed_rows(
            table,
            columns,
            keys=keys,
            load_ids=[load_id] * len(keys),
            lines=lines,
            places=range(len(keys)),
            deliveries=deliveries,
        )
        # What a person enters as it stands changes nothing.
        fresh = [(k, row) for k, row in incoming if not (entered and k in stored and stored[k].values == row.values)]
        history = _KeyHistory(connection, table, known_since, deliveries)
        resolved = resolve(table, fresh, stored=stored, kept=kept, history=history, calendar=calendar)
        resolved.repeated += len(incoming) - len(fresh)
    _take_out(connection, table, resolved.replaced, version)
    _insert(
        connection, table, accepted=resolved.accepted, columns=(*columns, keys, lines), load_id=load_id, version=version
    )
    _revive(connection, table, resolved.revived, version)
    deliveries.keep(table.name, resolved.kept)
    result = resolved.merge
    result.gone = [as_record(table, row) for row in resolved.replaced]
    add_press_days(result, table, columns, resolved, calendar)
    return result


def _make_latest(
    recorded: list[Value], keys: Sequence[str], stored: Mapping[str, Delivery], kept: Mapping[str, Sequence[Delivery]]
) -> None:
    """Let rows be recorded later than all that is known of their keys, whatever a clock elsewhere said."""
    for place, key in enumerate(keys):
        known = [one.rank[0] for one in (*kept.get(key, ()), *([stored[key]] if key in stored else []))]
        recorded[place] = max(int(recorded[place] or 0), *(us + 1 for us in known), 0)


def add_press_days(
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
    # The values of a delivery leave out recorded_at, which stands last in every contract.
    others = (*resolved.replaced, *(row for _, row in resolved.revived))
    went = ((row.values[when], row.values[where] if where is not None else None) for row in others)
    for us, press_id in (*came, *went):
        if not isinstance(us, int):
            continue
        result.reach_back(us)
        if press_id:
            result.add_press_day(str(press_id), calendar.plant_day(us))


def stored_rows(
    connection: sa.Connection, table: Table, keys: Sequence[str], version: int, deliveries: Deliveries
) -> dict[str, Delivery]:
    """The rows that hold of these keys."""
    return dict(_select(connection, table, keys, live(ROWS[table.name], version), deliveries))


class _KeyHistory:
    """Looks up the rows of keys that went up to some version."""

    def __init__(self, connection: sa.Connection, table: Table, version: int, deliveries: Deliveries) -> None:
        self._about = connection, table
        self._went = ROWS[table.name].c.removed <= version
        self._version = version
        self._deliveries = deliveries

    def __call__(self, keys: Iterable[str]) -> set[Identity]:
        if not self._version:
            return set()
        connection, table = self._about
        found = _select(connection, table, keys, self._went, self._deliveries)
        return {(key, row.values, row.recorded_at) for key, row in found}


def _select(
    connection: sa.Connection,
    table: Table,
    keys: Iterable[str],
    condition: sa.ColumnElement[bool],
    deliveries: Deliveries,
) -> Iterator[Keyed]:
    made = ROWS[table.name]
    names = (*table.columns, "row_key", "load_id", "line", "row_id")
    query = sa.select(*(made.c[name] for name in names)).where(condition)
    for some in chunks(keys):
        found = connection.execute(query.where(made.c.row_key.in_(some))).all()
        if found:
            columns: list[list[Any]] = [list(column) for column in zip(*found, strict=True)]
            *values, row_keys_, load_ids, lines, row_ids = columns
            yield from keyed_rows(
                table, values, keys=row_keys_, load_ids=load_ids, lines=lines, places=row_ids, deliveries=deliveries
            )


def _take_out(connection: sa.Connection, table: Table, replaced: Sequence[Delivery], version: int) -> None:
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


def _revive(connection: sa.Connection, table: Table, rows: Sequence[Keyed], version: int) -> None:
    """Insert rows that hold again, of which only the delivery is known."""
    names = (*table.columns, "row_key", "line", "load_id", "added")
    made = [
        (*(record[name] for name in table.columns), key, row.order.line, row.load_id, version)
        for key, row in rows
        for record in [as_record(table, row)]
    ]
    insert_rows(connection, ROWS[table.name], names, made)
