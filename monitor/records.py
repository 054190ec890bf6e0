"""Rows of input tables as plain records, times in microseconds since 1970 UTC."""

from __future__ import annotations

from typing import Any

import pyarrow as pa


def records(table: pa.Table) -> list[dict[str, Any]]:
    """Turn a table into records; times become integers [us], what is missing is None."""
    for at, column in enumerate(table.schema):
        if pa.types.is_timestamp(column.type):
            table = table.set_column(at, column.name, table.column(at).cast(pa.int64()))
    rows: list[dict[str, Any]] = table.to_pylist()
    return rows
