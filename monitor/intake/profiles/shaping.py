"""Rows of a file to the rows that count: what is left out, what repeats the row above, what is cut short."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal

from monitor.intake.batch import Rejected
from monitor.intake.places import not_as_wide
from monitor.intake.profiles.heads import Head, clean
from monitor.intake.profiles.lines import Record
from monitor.intake.profiles.model import Profile
from monitor.intake.profiles.numbers import plain_number
from monitor.intake.profiles.parts import Drop
from shared.phrases import Phrase, phrase
from shared.reasons.rows import LAST_CELL_MAY_BE_CUT, LINE_WITHOUT_END
from shared.tables import TABLES

BLOCK_ROWS = 50_000
BLOCK_SIGNS = 16 << 20
_MOST_NOTES = 20


@dataclass
class CellGrid:
    """Columns of cells under their headings ("" = none given is None), with the line of each row."""

    columns: dict[str, list[str | None]]
    line: list[int]
    rejected: list[Rejected] = field(default_factory=list)
    outside: int = 0
    notes: list[str] = field(default_factory=list)


class Shaper:
    """Shapes the rows of one file; what a row needs from those above it is kept here."""

    def __init__(self, head: Head, profile: Profile) -> None:
        self._head = head
        self._profile = profile
        self._width = len(head.names)
        self._nothing = frozenset(("", *profile.file.null_words))
        self._drops = [_Dropping(drop, head, profile) for drop in profile.drop_if]
        self._totals = [drop for drop in self._drops if drop.total >= 0]
        self._filled = self._places_to_fill()
        self._above: dict[int, str | None] = {}
        self._last_cell = ""

    def grids(self, rows: Iterator[Record]) -> Iterator[CellGrid]:
        """The rows in blocks, at least one."""
        grid, kept, signs = CellGrid({}, []), list[list[str | None]](), 0
        for row in rows:
            cells = self._cells(row, grid)
            signs += len(row.text)
            if cells is not None:
                kept.append(cells)
                grid.line.append(row.line)
            if len(kept) + len(grid.rejected) >= BLOCK_ROWS or signs >= BLOCK_SIGNS:
                yield self._block(grid, kept)
                grid, kept, signs = CellGrid({}, []), [], 0
        yield self._block(grid, kept)

    def _block(self, grid: CellGrid, kept: list[list[str | None]]) -> CellGrid:
        columns = [list(column) for column in zip(*kept, strict=True)] if kept else [[] for _ in range(self._width)]
        grid.columns = {name: column for name, column in zip(self._head.names, columns, strict=True) if name}
        grid.columns |= {name: [value] * len(grid.line) for name, value in self._head.constants.items()}
        return grid

    def _cells(self, row: Record, grid: CellGrid) -> list[str | None] | None:
        """The cells of a row that counts, None of one that is left out or set aside."""
        strip = self._profile.file.strip
        cells = [clean(cell, strip) for cell in row.cells]
        for drop in self._drops:
            if drop.fits(cells):
                grid.outside += 1
                grid.notes += drop.compare(cells, row.line)
                return None
        wide = any(cells[self._width :])
        fault = not_as_wide(len(cells), self._width) if wide else self._cut(row, cells)
        if fault:
            grid.rejected.append(Rejected(row.line, fault, json.dumps(row.text, ensure_ascii=False)))
            return None
        for drop in self._totals:
            drop.add(cells)
        self._last_cell = cells[-1]
        return self._fill([None if cell in self._nothing else cell for cell in cells[: self._width]])

    def _cut(self, row: Record, cells: list[str]) -> Phrase | None:
        """Why a row has no right cells, or may have been cut short at the end of the file."""
        fault = row.fault
        if not fault and len(cells) < self._width:
            fault = not_as_wide(len(cells), self._width)
        if row.whole:
            return fault
        if fault:
            return phrase(LINE_WITHOUT_END, fault=fault)
        if not TABLES[self._profile.table].logged or len(cells[-1]) >= len(self._last_cell):
            return None
        return phrase(LAST_CELL_MAY_BE_CUT, seen=cells[-1], before=self._last_cell)

    def _places_to_fill(self) -> tuple[int, ...]:
        wanted = {name for column in self._profile.columns.values() if column.fill_down for name in column.source}
        return tuple(place for place, name in enumerate(self._head.names) if name in wanted)

    def _fill(self, cells: list[str | None]) -> list[str | None]:
        for place in self._filled:
            if cells[place] is None:
                cells[place] = self._above.get(place)
            self._above[place] = cells[place]
        return cells


class _Dropping:
    """One rule for rows that are left out, and the sums that their totals are compared with."""

    def __init__(self, drop: Drop, head: Head, profile: Profile) -> None:
        self._drop = drop
        self._place = head.names.index(drop.column) if drop.column else 0
        self.total = head.names.index(drop.total) if drop.total else -1
        self._read = plain_number(profile.file)
        self._differing = 0
        self._sums = [Decimal(0), Decimal(0)]  # since the total before, and of the whole file

    def fits(self, cells: list[str]) -> bool:
        cell = cells[self._place] if self._place < len(cells) else ""
        drop = self._drop
        if cell in drop.equals or any(cell.startswith(begin) for begin in drop.begins):
            return True
        return bool(drop.pattern) and re.fullmatch(drop.pattern, cell) is not None

    def add(self, cells: list[str]) -> None:
        number = self._number(cells)
        if number is not None:
            self._sums = [since + number for since in self._sums]

    def compare(self, cells: list[str], line: int) -> list[str]:
        """A remark where a total is neither the sum since the one before nor that of the file."""
        told = self._number(cells) if self.total >= 0 else None
        if told is None:
            return []
        since, whole = self._sums
        self._sums[0] = Decimal(0)
        self._differing += told not in (since, whole)
        if told in (since, whole) or self._differing > _MOST_NOTES:
            return []
        return [f"line {line}: the total of {self._drop.total} is {told}, the rows above it add up to {since}"]

    def _number(self, cells: list[str]) -> Decimal | None:
        try:
            return Decimal(self._read(cells[self.total]))
        except (ValueError, IndexError):
            return None


def unpivoted(grid: CellGrid, profile: Profile, names: tuple[str, ...]) -> Iterator[CellGrid]:
    """The grid itself, or one for each column that becomes rows; empty cells give no row and are left out."""
    wide = profile.unpivot
    if wide is None:
        yield grid
        return
    found = [name for name in names if name in wide.columns or (wide.pattern and re.fullmatch(wide.pattern, name))]
    yield CellGrid({}, [], grid.rejected, grid.outside, grid.notes)
    for name in found:
        cells = grid.columns[name]
        filled = [place for place, cell in enumerate(cells) if cell is not None]
        columns = {other: [column[place] for place in filled] for other, column in grid.columns.items()}
        columns |= {wide.name: [name] * len(filled), wide.value: [cells[place] for place in filled]}
        yield CellGrid(columns, [grid.line[place] for place in filled], outside=len(cells) - len(filled))
