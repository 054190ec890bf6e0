"""Figures that judge rather than count: capability, wear, service and the verdict on scrap, for what a scope asks."""

from __future__ import annotations

import datetime as dt

import pandas as pd
import pyarrow as pa

from monitor.book import Book, Record
from monitor.figures import measured
from monitor.figures.scope import Scope
from monitor.ledger import Snapshot
from monitor.records import records


def capability(snapshot: Snapshot, book: Book, scope: Scope) -> pd.DataFrame:
    """Return the `capability` table for the measurements in range."""
    rows = snapshot.rows("measurements", scope.press, scope.from_us, scope.to_us)
    table = rows.set_column(0, "time_us", rows.column("time").cast(pa.int64())).to_pandas()
    if scope.part is not None:
        table = table[table["part_no"] == scope.part]
    told = measured.with_die(table, records(snapshot.rows("die_changes", scope.press)))
    if scope.die is not None:
        told = told[told["die_id"] == scope.die]
    return measured.capabilities(told, _limits(snapshot))


def _limits(snapshot: Snapshot) -> dict[tuple[str, str], Record]:
    """Return the specification of each part and characteristic that became valid last."""
    rows: list[Record] = snapshot.rows("characteristics").to_pylist()
    in_order = sorted(rows, key=lambda row: row["valid_from"] or dt.date.min)
    return {(row["part_no"], row["characteristic"]): row for row in in_order}
