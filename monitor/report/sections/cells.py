"""Cells that several sections of a report write alike."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from monitor.report.words import MISSING, PaperWords

Row = Mapping[Hashable, Any]

#: Usual demands on a running process; common practice, no source.
PPK_WANTED = 1.33
SUBGROUPS_WANTED = 25


def rows_of(table: pd.DataFrame) -> list[dict[Hashable, Any]]:
    """Return the rows of a table as records."""
    return table.to_dict("records")


def title_of(row: Row) -> str:
    """Return number and name of a part."""
    return f"{row['part_no']} {row['name']}".strip()


def cause_of(row: Row | pd.Series) -> str:
    """Return code and name of a cause; empty where nothing was found."""
    return f"{row['cause']} {row['cause_name']}".strip()


def span(low: Any, high: Any, words: PaperWords) -> str:
    """Return an interval of parts per million."""
    if pd.isna(low) or pd.isna(high):
        return MISSING
    return words("to", low=words.ppm(low), high=words.ppm(high))


def doubts(row: Row, words: PaperWords) -> list[str]:
    """Return why a capability may not be taken at its word."""
    if pd.isna(row["mean"]):
        return [words["not_measured"]]
    checks = (
        (row["subgroups"] < SUBGROUPS_WANTED, "few"),
        (row["stable"] is False, "not_stable"),
        (row["normal"] is False, "not_normal"),
        (row["outs_differ"] is True, "outs_differ"),
        (pd.isna(row["ppk"]) or row["ppk"] < PPK_WANTED, "below"),
    )
    return [words[name] for doubt, name in checks if doubt]
