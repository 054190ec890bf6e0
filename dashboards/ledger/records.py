"""Rows of figure tables as plain records: a board looks at a few rows of each press, and frames are slow at few."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

Record = Mapping[str, Any]
Records = Sequence[Record]


def records(frame: pd.DataFrame) -> list[Record]:
    """Rows in order; whole numbers that are missing are pd.NA, others NaN."""
    names = [str(name) for name in frame.columns]
    return [dict(zip(names, row, strict=True)) for row in frame.to_numpy(object).tolist()]


def by_press(frame: pd.DataFrame) -> dict[str, list[Record]]:
    """Rows of each press, in order."""
    found: dict[str, list[Record]] = {}
    for row in records(frame):
        found.setdefault(row["press_id"], []).append(row)
    return found
