"""Rows of figure tables made by hand, for what draws a few of them."""

from __future__ import annotations

import numpy as np
import pandas as pd

from dashboards.ledger.records import Record, records
from monitor.figures import FIGURES


def lines(name: str, rows: list[dict[str, object]]) -> list[Record]:
    """Rows as records of a figure table."""
    return records(table(name, rows))


def table(name: str, rows: list[dict[str, object]]) -> pd.DataFrame:
    """Rows as a figure table: its columns in order and typed; what a row lacks is missing as in a ledger."""
    types = {"COUNT": "Int64", "NUMBER": "float64", "FLAG": "bool", "TIME": "Int64"}
    missing = {"COUNT": pd.NA, "NUMBER": np.nan, "FLAG": False, "TIME": pd.NA}
    return pd.DataFrame(
        {
            column.name: pd.Series(
                [row.get(column.name, missing.get(column.kind.name, "")) for row in rows],
                dtype=types.get(column.kind.name, "str"),
            )
            for column in FIGURES[name].columns
        }
    )
