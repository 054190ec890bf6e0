"""Cells of a logger to cells of the contract, column by column; what cannot be read is set aside, never guessed."""

from __future__ import annotations

import datetime as dt
import re
from collections import defaultdict
from collections.abc import Callable

import numpy as np
import pyarrow as pa

from monitor.intake.batch import Rejected, as_row
from monitor.intake.chunk import Raw
from monitor.intake.places import not_expected
from monitor.intake.profiles.heads import Head, clean
from monitor.intake.profiles.model import Profile
from monitor.intake.profiles.moments import Moments
from monitor.intake.profiles.numbers import number_reader
from monitor.intake.profiles.parts import ProfileColumn
from monitor.intake.profiles.shaping import CellGrid
from shared.fields import Field, Kind
from shared.phrases import Phrase, joined, phrase
from shared.reasons.expected import ONE_OF, PATTERN, RANGE_OF_HOURS, TIME_WITH_DATE
from shared.table import Table

Cells = list[str | None]
Reader = Callable[[str], str]

#: The set-back of a counter that counts each period by itself is noted this long after the period begins: two
#: readings of one instant could not be told apart.
AFTER_START = dt.timedelta(microseconds=1)


class Columns:
    """Reads the columns of one file by its profile; raises RefusedFile where a unit does not fit."""

    def __init__(self, head: Head, profile: Profile, table: Table, order: str, where: str) -> None:
        self._profile = profile
        self._table = table
        self._moments = Moments(profile.time, order)
        self._delta = profile.counter.kind == "delta"
        self._readers = {name: self._reader(name, head, where) for name in profile.columns}

    def raw(self, grid: CellGrid) -> Raw:
        """The rows of a grid under the names of the contract; those with a cell that cannot be read set aside."""
        faults: dict[int, list[Phrase]] = defaultdict(list)
        cells = {name: self._column(name, column, grid, faults) for name, column in self._profile.columns.items()}
        rejected = self._rejected(grid, faults)
        sound = [place for place in range(len(grid.line)) if place not in faults]
        taken = {name: [column[place] for place in sound] for name, column in cells.items()}
        lines = [grid.line[place] for place in sound]
        if self._delta:
            taken, lines = self._periods(taken, lines)
        arrays = [pa.array(column, pa.string()) for column in taken.values()]
        batch = pa.RecordBatch.from_arrays(arrays, names=list(taken))
        line = np.array(lines, dtype=np.int64)
        return Raw(batch, line, grid.rejected + rejected, outside=grid.outside, notes=tuple(grid.notes))

    def _rejected(self, grid: CellGrid, faults: dict[int, list[Phrase]]) -> list[Rejected]:
        """Rows at fault under the names of the contract, their cells as they came."""
        columns = self._profile.columns.items() if faults else ()
        came = {name: self._joined(column, grid) for name, column in columns}
        rows = ((place, {name: cells[place] for name, cells in came.items()}) for place in sorted(faults))
        return [Rejected(grid.line[place], joined(faults[place]), as_row(row)) for place, row in rows]

    def _column(self, name: str, column: ProfileColumn, grid: CellGrid, faults: dict[int, list[Phrase]]) -> Cells:
        held, read = self._joined(column, grid), self._readers[name]
        known: dict[str | None, str | None] = {None: None}
        wrong: dict[str | None, Phrase] = {}
        for cell in set(held) - {None}:
            try:
                known[cell] = read(str(cell)) or None
            except ValueError as error:
                known[cell] = None
                wrong[cell] = not_expected(name, str(cell), error.args[0])
        if wrong:
            for place, cell in enumerate(held):
                if cell in wrong:
                    faults[place].append(wrong[cell])
        return [known[cell] for cell in held]

    def _joined(self, column: ProfileColumn, grid: CellGrid) -> Cells:
        if column.constant:
            return [column.constant] * len(grid.line)
        first, *others = (self._cleaned(name, column, grid) for name in column.source)
        if not others:
            return first
        rows = zip(first, *others, strict=True)
        return [" ".join(cell for cell in row if cell is not None) or None for row in rows]

    def _cleaned(self, name: str, column: ProfileColumn, grid: CellGrid) -> Cells:
        cells = grid.columns.get(name, [None] * len(grid.line))
        if not column.strip and not column.null_words:
            return cells
        nothing = ("", *column.null_words)
        stripped = (None if cell is None else clean(cell, column.strip) for cell in cells)
        return [None if cell in nothing else cell for cell in stripped]

    def _reader(self, name: str, head: Head, where: str) -> Reader:
        column, field = self._profile.columns[name], self._table.field(name)
        by_kind = self._by_kind(name, field, head, where) if not column.constant else (lambda cell: cell)
        looks = re.compile(column.pattern) if column.pattern else None

        def read(cell: str) -> str:
            if looks and not looks.fullmatch(cell):
                raise ValueError(phrase(PATTERN, pattern=column.pattern))
            cell = _mapped(cell, column) if column.map else cell
            return by_kind(cell) if cell else cell

        return read

    def _by_kind(self, name: str, field: Field, head: Head, where: str) -> Reader:
        if field.kind in (Kind.COUNT, Kind.NUMBER):
            source = self._profile.columns[name].source
            word = head.units.get(source[0], "") if len(source) == 1 else ""
            return number_reader(self._profile, name, field, word, where)
        if field.kind in (Kind.TIME, Kind.DATE):
            return lambda cell: self._time(cell, field)
        return lambda cell: cell

    def _time(self, cell: str, field: Field) -> str:
        try:
            return self._iso(cell, field)
        except OverflowError:  # Beyond the years that Python knows.
            raise ValueError(field.expected()) from None

    def _iso(self, cell: str, field: Field) -> str:
        moment = self._moments.read(cell, bool(self._profile.columns[field.name].map))
        if field.kind is Kind.DATE or ((moment.day or moment.whole) and field.to_the_day):
            return moment.end.date().isoformat()
        if moment.day:
            raise ValueError(phrase(TIME_WITH_DATE))
        end = self._moments.write(moment.end, moment.offset)
        if not self._delta or field.name != "time":
            return end
        start = moment.start or moment.end - dt.timedelta(seconds=self._period_s())
        return f"{self._moments.write(start + AFTER_START, moment.offset)} {end}"

    def _period_s(self) -> float:
        if not self._profile.counter.period_s:
            raise ValueError(phrase(RANGE_OF_HOURS))
        return self._profile.counter.period_s

    def _periods(self, taken: dict[str, Cells], lines: list[int]) -> tuple[dict[str, Cells], list[int]]:
        """Two readings for each period: the counter set back at its start, and what was made at its end.

        Each period stands by itself, so files that overlap, or come late, give the same readings again.
        """
        spans = [(cell or "").partition(" ") for cell in taken["time"]]
        doubled = {name: [cell for cell in column for _ in (0, 1)] for name, column in taken.items()}
        doubled["time"] = [part or None for start, _, end in spans for part in (start, end)]
        made = taken["counter"]
        doubled["counter"] = [part for cell in made for part in ("0" if cell is not None else None, cell)]
        return doubled, [line for line in lines for _ in (0, 1)]


def _mapped(cell: str, column: ProfileColumn) -> str:
    """What the words of the profile mean; of joined cells only the last is a word."""
    before, _, last = cell.rpartition(" ") if len(column.source) > 1 else ("", "", cell)
    if last not in column.map:
        raise ValueError(phrase(ONE_OF, words=", ".join(column.map)))
    return f"{before} {column.map[last]}".strip()
