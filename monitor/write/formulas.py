"""Keeps text of a CSV file from running as a formula, however a spreadsheet cuts the file into cells.

A spreadsheet splits at the list separator of its country: `x;=2+3` becomes a cell that begins with `=`, whatever quotes
stand around it, since quotes in the middle of a cell are no quotes.  So an apostrophe stands at the beginning of every
stretch of text that any of them may take for a cell and then for a formula.  Where one stood already there is another,
so that the text can be told again from what was written.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

#: What a spreadsheet takes for the beginning of a formula, in full width too, and the apostrophe itself.
_SIGNS = r"=+\-@'\uff1d\uff0b\uff0d\uff20"
_AFTER = r"(?<=[,;|\t\r\n])"
# Blanks and quotes before it may be left out by whoever reads the file.
_RISK = rf"[ \"]*[{_SIGNS}\t\r]"
_FIRST_RISK = rf"[ \"]*[{_SIGNS}\t\r\n]"
_UNGUARDED = re.compile(rf"\A(?={_FIRST_RISK})|{_AFTER}(?={_RISK})")
_GUARDED = re.compile(rf"\A'(?={_FIRST_RISK})|{_AFTER}'(?={_RISK})")


def guarded(text: str) -> str:
    """Return text for a cell of CSV of which no part runs as a formula."""
    return _UNGUARDED.sub("'", text)


def unguarded(text: str) -> str:
    """Return the text that was guarded."""
    return _GUARDED.sub("", text)


def guarded_table(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table whose headings and texts are guarded; numbers are left as they are."""
    safe = table.rename(columns={name: guarded(name) for name in table.columns if isinstance(name, str)})
    for name in safe.select_dtypes(["object", "str"]).columns:
        safe[name] = safe[name].map(_guarded_cell, na_action="ignore")
    return safe


def _guarded_cell(value: object) -> object:
    return guarded(value) if isinstance(value, str) else value
