"""Phrases for where in a file something was found, and for a cell that is not what was expected."""

from __future__ import annotations

import os
from pathlib import Path

from shared.phrases import Phrase, phrase
from shared.reasons.files import FILE_COLUMN, FILE_LINE
from shared.reasons.rows import ROW_WIDTH, expecting


def shown_name(path: Path) -> str:
    """Return the name of a file as text that can be stored and shown; bytes that are not UTF-8 stand as `\\xE4`."""
    return os.fsencode(path.name).decode("utf-8", "backslashreplace")


def in_line(name: str, line: int) -> Phrase:
    """A line of a file, 1 = first."""
    return phrase(FILE_LINE, file=name, line=line)


def in_column(where: str, column: str) -> Phrase:
    """A column of a file."""
    return phrase(FILE_COLUMN, file=where, column=column)


def not_expected(column: str, seen: str, expected: str) -> Phrase:
    """Why a cell is not taken; of what was seen no more than the beginning is shown."""
    return phrase(expecting(expected), column=column, seen=seen[:60], expected=expected)


def not_as_wide(cells: int, width: int) -> Phrase:
    """Why a row is not taken that has more or fewer cells than its header."""
    return phrase(ROW_WIDTH, cells=cells, width=width)
