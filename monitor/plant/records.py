"""Rows of input tables as plain records, times in microseconds since 1970 UTC."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
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


def items(cell: str | None) -> tuple[str, ...]:
    """Return the items of a `;`-list of an input table: numbers, or words of a fixed list, never identifiers."""
    return tuple(item.strip() for item in (cell or "").split(";") if item.strip())


@dataclass(frozen=True)
class DieStation:
    """A station of a die, counted from the first, and what it does there."""

    number: int
    operations: tuple[str, ...]


def die_stations(rows: Iterable[Mapping[str, Any]], die_id: str) -> list[DieStation]:
    """Turn the records of `stations` of a die into stations, in their order."""
    return [DieStation(int(row["station"]), items(row["operation"])) for row in rows if row["die_id"] == die_id]


def die_change(row: dict[str, Any]) -> DieChange:
    """Turn a record of `die_changes` into the event that the reckoning wants."""
    return DieChange(
        row["time"],
        row["event"],
        die_id=row["die_id"],
        part_no=row["part_no"] or "",
        order_id=row["order_id"] or "",
        outs_running=tuple(int(out) for out in items(row["outs_running"]) if out.isdigit()),
    )


def piece_facts(facts: pd.DataFrame) -> list[PieceFact]:
    """Return facts of pieces of one press as records, in the order of the rows."""
    return [PieceFact._make(row) for row in facts[list(PieceFact._fields)].itertuples(index=False, name=None)]
