"""How the kinds of column are held in Arrow tables; a missing value is null."""

from __future__ import annotations

import pyarrow as pa

from shared.fields import Kind
from shared.table import Table

ARROW_TYPES: dict[Kind, pa.DataType] = {
    Kind.TEXT: pa.string(),
    Kind.COUNT: pa.int64(),
    Kind.NUMBER: pa.float64(),
    Kind.TIME: pa.timestamp("us", "UTC"),
    Kind.DATE: pa.date32(),
    Kind.FLAG: pa.bool_(),
}


def arrow_schema(table: Table, columns: tuple[str, ...] | None = None) -> pa.Schema:
    """The Arrow schema of a table, or of some of its columns."""
    return pa.schema([(c, ARROW_TYPES[table.field(c).kind]) for c in columns or table.columns])
