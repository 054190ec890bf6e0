"""Whether a last line without line end may have been cut while the logger was writing it.

A cut cell can look whole: 4812330 cut to 48123 is a counter too.  Where a logger writes the table and the last
cell is a number or a time, the line is taken only if that cell is no shorter than the one above it.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence

from shared.fields import Kind
from shared.phrases import Phrase, phrase
from shared.reasons.rows import LINE_CUT, LINE_MAY_BE_CUT
from shared.table import Table

_RISING = frozenset({"counter", "feeds"})
_LINES_BACK = 10_000
#: Python reads no number of thousands of digits.
_MOST_DIGITS = 1_000


def may_be_cut(cells: Sequence[str], above: bytes, names: Sequence[str], table: Table) -> Phrase | None:
    """Why the last line may have been cut short; None where it is whole.  `above` holds the lines before it."""
    if len(cells) < len(names):
        return phrase(LINE_CUT, cells=len(cells), width=len(names))
    last = names[-1]
    if not table.logged or last not in table.columns or table.field(last).kind in (Kind.TEXT, Kind.FLAG):
        return None
    before = _cell_above(cells, above, names)
    if before is None or not _looks_cut(cells[len(names) - 1].strip(), before.strip(), last):
        return None
    return phrase(LINE_MAY_BE_CUT, column=last, seen=cells[-1], before=before)


def _looks_cut(cell: str, before: str, name: str) -> bool:
    if len(cell) < len(before):
        return True
    numbers = cell.isdecimal() and before.isdecimal() and len(cell) <= _MOST_DIGITS
    return name in _RISING and numbers and int(cell) < int(before)


def _cell_above(cells: Sequence[str], above: bytes, names: Sequence[str]) -> str | None:
    """The last cell of the nearest line above that is of the same press."""
    press = names.index("press_id")
    for line in reversed(above.splitlines()[-_LINES_BACK:]):
        try:
            row = next(csv.reader([line.decode("utf-8", errors="replace")]), [])
        except csv.Error:
            continue
        if len(row) == len(names) and row[press].strip() == cells[press].strip():
            return row[-1]
    return None
