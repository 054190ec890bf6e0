"""Takes single rows that a person enters, through the ledger like any other: who and when are kept, and every history.

Only tables that no fold depends on are entered so; an entry changes what is held, never what was counted.
"""

from __future__ import annotations

import datetime as dt
import getpass
import hashlib
import json
import time
from collections.abc import Mapping
from typing import Any

import pyarrow as pa

from monitor.book import plant_of
from monitor.ledger import Ledger
from shared.calendar import Calendar
from shared.errors import RequestError
from shared.fields import Kind
from shared.table import Table
from shared.tables import TABLES

#: Tables that may be entered: nothing that is counted rests on them.
ENTERED = ("holds",)

_ARROW = {
    Kind.TIME: pa.timestamp("us", "UTC"),
    Kind.COUNT: pa.int64(),
    Kind.NUMBER: pa.float64(),
    Kind.FLAG: pa.bool_(),
    Kind.DATE: pa.date32(),
}
_LONGEST = 500


def enter(ledger: Ledger, table: str, row: Mapping[str, Any], *, by: str = "", now_us: int | None = None) -> int:
    """Enter a row (times in microseconds since 1970 UTC) and return the version that holds it.

    A row of a key that exists replaces it from this version on; the earlier one stays readable at earlier versions.
    `by` is who enters it, the user of this computer where empty; it stands with the moment in `loads`.  Raises
    RequestError for a table that is not entered or a row that does not hold.
    """
    if table not in ENTERED:
        raise RequestError("enter", repr(table), f"one of {', '.join(ENTERED)}", "load the row as a file")
    now_us = time.time_ns() // 1_000 if now_us is None else now_us
    row = {**row, "recorded_at": now_us}
    contract = TABLES[table]
    _check(contract, row)
    text = json.dumps(row, sort_keys=True, default=str).encode()
    who = by.strip()[:_LONGEST] or user()
    with ledger.writer(Calendar(plant_of(ledger.snapshot().plant_text()))) as writer:
        load_id = writer.begin_load(f"entered by {who}", table, hashlib.sha256(text).hexdigest(), len(text))
        merged = writer.merge(table, _as_rows(contract, row), load_id, correct=True)
        new, repeated, corrected = merged.new, merged.repeated, merged.corrected
        writer.finish_load(load_id, rows=1, read=1, new=new, repeated=repeated, corrected=corrected)
        return writer.version


def user() -> str:
    """Name of the user of this computer, as far as it is known."""
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return "somebody"


def _check(contract: Table, row: Mapping[str, Any]) -> None:
    for name in row:
        if name not in contract.columns:
            _refuse(contract, name, "a column the table does not have", f"one of {', '.join(contract.columns)}")
    for name in contract.required:
        if row.get(name) in (None, ""):
            _refuse(contract, name, "empty", contract.field(name).meaning)
    for name, value in row.items():
        field = contract.field(name)
        if field.choices and value not in (None, "", *field.choices):
            _refuse(contract, name, repr(value), f"one of {', '.join(field.choices)}")
        if isinstance(value, str) and len(value) > _LONGEST:
            _refuse(contract, name, f"{len(value)} characters", f"no more than {_LONGEST}")
    for first, last in contract.ordered:
        if row.get(first) is not None and row.get(last) is not None and row[first] > row[last]:
            _refuse(contract, last, f"before {first}", f"{first} first")


def _refuse(contract: Table, column: str, seen: str, expected: str) -> None:
    raise RequestError(f"{contract.name}, {column}", seen, expected, "enter it so")


def _as_rows(contract: Table, row: Mapping[str, Any]) -> pa.Table:
    columns = {}
    for name in contract.columns:
        kind = _ARROW.get(contract.field(name).kind, pa.string())
        value = row.get(name)
        if pa.types.is_timestamp(kind) and value is not None:
            value = dt.datetime.fromtimestamp(0, dt.UTC) + dt.timedelta(microseconds=value)
        columns[name] = pa.array([value], kind)
    return pa.table({**columns, "line": pa.array([1], pa.int64())})
