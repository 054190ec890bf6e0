"""How a row stands in Arrow, in SQL and as a key.

Arrow holds the kinds as `shared.arrow` says, SQL holds times as microseconds since 1970 UTC, dates as ISO text and
flags as 0 or 1.  A missing value is null in both; empty text and NaN count as missing.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from shared.arrow import ARROW_TYPES, arrow_schema
from shared.fields import Kind
from shared.table import Table

Value = str | int | float | None

_encode = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode


def canonical(table: Table, rows: pa.Table) -> pa.Table:
    """The rows with every column of the contract in its Arrow type, and their `line`; missing is null."""
    columns = [_canonical_column(rows, name, table.field(name).kind) for name in table.columns]
    line = rows.column("line").cast(pa.int64())
    return pa.table([*columns, line], schema=arrow_schema(table).append(pa.field("line", pa.int64())))


def _canonical_column(rows: pa.Table, name: str, kind: Kind) -> pa.ChunkedArray:
    if name not in rows.column_names:
        return pa.chunked_array([pa.nulls(len(rows), ARROW_TYPES[kind])])
    column = rows.column(name).cast(ARROW_TYPES[kind])
    if kind is Kind.TEXT:
        return pc.if_else(pc.equal(column, ""), None, column)
    if kind is Kind.NUMBER:
        return pc.if_else(pc.is_nan(column), None, column)
    return column


def stored_values(table: Table, rows: pa.Table) -> list[list[Value]]:
    """The columns of canonical rows as SQL holds them, in contract order."""
    return [_stored_column(rows.column(name), table.field(name).kind) for name in table.columns]


def _stored_column(column: pa.ChunkedArray, kind: Kind) -> list[Value]:
    if kind is Kind.TIME:
        column = column.cast(pa.int64())
    elif kind is Kind.DATE:
        column = column.cast(pa.string())
    elif kind is Kind.FLAG:
        column = column.cast(pa.int8())
    values: list[Value] = column.to_pylist()
    return values


def arrow_rows(table: Table, columns: Sequence[Sequence[Any]]) -> pa.Table:
    """Canonical Arrow rows from columns as SQL holds them, in contract order."""
    arrays = [
        _arrow_column(values, table.field(name).kind) for name, values in zip(table.columns, columns, strict=True)
    ]
    return pa.table(arrays, schema=arrow_schema(table))


def _arrow_column(values: Sequence[Any], kind: Kind) -> pa.Array:
    if kind is Kind.DATE:
        return pa.array(values, pa.string()).cast(pa.date32())
    if kind is Kind.FLAG:
        return pa.array(values, pa.int8()).cast(pa.bool_())
    return pa.array(values, ARROW_TYPES[kind])


def row_keys(table: Table, columns: Sequence[Sequence[Value]]) -> list[str]:
    """The key of each row as JSON text, the same for the same key and different for any other."""
    of_name = dict(zip(table.columns, columns, strict=True))
    return [_encode(key) for key in zip(*(of_name[name] for name in table.key), strict=True)]


def loads_of(texts: Iterable[str]) -> list[int]:
    """The loads that parts name, each once, in order."""
    return sorted({int(number) for text in texts for number in text.split(";") if number})


def loads_text(load_ids: Iterable[int]) -> str:
    """Loads as a part names them: `;1;17;`."""
    return f";{';'.join(str(load_id) for load_id in sorted(load_ids))};"
