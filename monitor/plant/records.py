"""Rows of input tables as plain records, times in microseconds since 1970 UTC."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pyarrow as pa

from monitor.reckoning.press.press_day import DieChange
from shared.facts import PieceFact


def records(table: pa.Table) -> list[dict[str, Any]]:
    """Turn a table into records; times become integers [us], what is missing is None."""
    for at, column in enumerate(table.schema):
        if pa.types.is_timestamp(column.type):
            table = table.set_column(at, column.name, table.column(at).cast(pa.int64()))
    rows: list[dict[str, Any]] = table.to_pylist()
    return rows


def die_change(row: dict[str, Any]) -> DieChange:
    """Turn a record of `die_changes` into the event that the reckoning wants."""
    outs = tuple(int(out) for out in (row["outs_running"] or "").split(";") if out.strip().isdigit())
    return DieChange(
        row["time"],
        row["event"],
        die_id=row["die_id"],
        part_no=row["part_no"] or "",
        order_id=row["order_id"] or "",
        outs_running=outs,
    )


def piece_facts(facts: pd.DataFrame) -> list[PieceFact]:
    """Return facts of pieces of one press as records, in the order of the rows."""
    return [PieceFact._make(row) for row in facts[list(PieceFact._fields)].itertuples(index=False, name=None)]
