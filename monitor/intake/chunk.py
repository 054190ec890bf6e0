"""A stretch of rows on its way through intake: as they came, as they are understood, and what stands against them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
import pyarrow as pa

from monitor.intake.batch import Batch, Faults, Mask, Rejected, Whole, rejected_rows, shown
from monitor.intake.places import in_column, not_expected
from monitor.intake.plausible import Plausible
from monitor.intake.times import ColumnTimes, Dates, parse_times
from monitor.intake.values import DAMAGED, Parsed, WrongType, as_text, mask_of, parse
from shared.calendar import Calendar
from shared.errors import RefusedFile
from shared.fields import Field, Kind
from shared.identifiers import hidden_in
from shared.phrases import Amount, Phrase, Template, phrase
from shared.plant import Plant
from shared.reasons.expected import TIME_EXAMPLE
from shared.reasons.files import COLUMN_TYPE, WRITE_FITTING_TYPE
from shared.reasons.rows import NAME_DAMAGED, NAME_NOT_SHOWN, TIME_EXPECTED, TIME_SKIPPED, VALUE_MISSING
from shared.table import Table


@dataclass(frozen=True)
class Raw:
    """Rows as a file gives them, with their line.

    `rejected` are lines that could not be cut into cells, `ignored` names columns the table does not have.  A profile
    counts the rows it leaves out as `outside` and makes `notes` on what it found.
    """

    cells: pa.RecordBatch
    line: Whole
    rejected: list[Rejected] = field(default_factory=list)
    ignored: tuple[str, ...] = ()
    outside: int = 0
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Chunk:
    """Rows understood: canonical columns but for times, which may still have to be settled."""

    cells: pa.RecordBatch
    line: Whole
    values: Mapping[str, pa.Array]
    times: Mapping[str, ColumnTimes]
    faults: Faults

    def take(self, mask: Mask) -> Chunk:
        """The rows of the mask, none of which may have a fault."""
        if mask.all():
            return self
        return Chunk(
            self.cells.filter(pa.array(mask)),
            self.line[mask],
            {name: column.filter(pa.array(mask)) for name, column in self.values.items()},
            {name: times.take(mask) for name, times in self.times.items()},
            Faults(),
        )

    def column(self, name: str) -> pa.Array | None:
        """A canonical column, or None where the file does not have it."""
        return self.times[name].column() if name in self.times else self.values.get(name)

    def sound(self) -> Mask:
        """Rows with nothing against them."""
        mask = np.ones(len(self.line), dtype=bool)
        mask[self.faults.places()] = False
        return mask

    def batch(self, table: Table, rejected: list[Rejected], notes: tuple[str, ...]) -> Batch:
        """The rows that are sound as a batch, the others set aside with those already rejected."""
        rejected = sorted(rejected + rejected_rows(self.cells, self.line, self.faults), key=lambda one: one.line)
        kept = self.take(self.sound())
        names = [name for name in table.columns if name in self.values or name in self.times]
        rows = pa.table([kept.column(name) for name in names] + [pa.array(kept.line)], names=[*names, "line"])
        return Batch(rows, rejected, len(rows) + len(rejected), notes=notes)


def understand(
    raw: Raw,
    table: Table,
    zone: str,
    where: str,
    plausible: Plausible | None = None,
    calendar: Calendar | None = None,
) -> Chunk:
    """The canonical columns of raw rows, a fault for each cell that cannot be taken; raises RefusedFile.

    `calendar` says when the plant days begin that bare dates mean; without one that is midnight.
    """
    calendar = calendar or Calendar(Plant(timezone=zone))
    faults = Faults()
    values: dict[str, pa.Array] = {}
    times: dict[str, ColumnTimes] = {}
    for name in table.columns:
        if name not in raw.cells.schema.names:
            continue
        column, told = raw.cells.column(name), table.field(name)
        if pa.types.is_null(column.type):
            # A column that is empty throughout has no type in files that frames write.
            column = column.cast(pa.string())
        try:
            if told.kind is Kind.TIME:
                times[name] = parse_times(column, zone, told.to_the_day and Dates(calendar, told.to_end))
                empty = times[name].missing
                _time_faults(column, told, times[name], zone, faults)
                if plausible:
                    _year_faults(column, told, times[name], plausible, faults)
            else:
                parsed = parse(column, told)
                values[name], empty = parsed.values, _empty(parsed)
                faults.add(parsed.bad, _says(column, told))
        except WrongType as wrong:
            raise _wrong_type(where, told, wrong) from None
        if name in table.required:
            faults.add(empty, _says_empty(told))
    return Chunk(raw.cells, raw.line, values, times, faults)


def _empty(parsed: Parsed) -> Mask:
    if not parsed.values.null_count:
        return np.zeros(len(parsed.values), dtype=bool)
    return mask_of(parsed.values.is_null()) & ~parsed.bad


def _says_empty(told: Field) -> Callable[[int], Phrase]:
    reason = phrase(VALUE_MISSING, column=told.name, expected=told.expected())
    return lambda _place: reason


def _says(column: pa.Array, told: Field) -> Callable[[int], Phrase]:
    expected = told.expected()

    def say(place: int) -> Phrase:
        seen = as_text(shown(column[place]) or "", told)
        if told.identifier and DAMAGED.fullmatch(seen):
            return phrase(NAME_DAMAGED, column=told.name, seen=seen)
        if told.identifier and hidden_in(seen):
            return phrase(NAME_NOT_SHOWN, column=told.name, seen=seen[:60])
        return not_expected(told.name, seen, expected)

    return say


def _time_faults(column: pa.Array, told: Field, times: ColumnTimes, zone: str, faults: Faults) -> None:
    def seen(place: int) -> dict[str, str]:
        return {"column": told.name, "seen": (shown(column[place]) or "").strip()[:60]}

    at = phrase(TIME_EXAMPLE)
    asked = {"expected": told.expected(), "example": "2026-11-02" if told.to_the_day else at}
    faults.add(times.bad, lambda place: phrase(TIME_EXPECTED, **seen(place), **asked))
    faults.add(times.never & ~times.bad & ~times.missing, lambda place: phrase(TIME_SKIPPED, **seen(place), zone=zone))


def _year_faults(column: pa.Array, told: Field, times: ColumnTimes, plausible: Plausible, faults: Faults) -> None:
    known = ~(times.bad | times.never | times.missing)
    for mask, wrong, number in plausible.faults(times.us, told):

        def say(place: int, wrong: Template = wrong, number: Amount = number) -> Phrase:
            seen = (shown(column[place]) or "").strip()[:60]
            return phrase(wrong, column=told.name, seen=seen, n=number)

        faults.add(mask & known, say)


def _wrong_type(where: str, told: Field, wrong: WrongType) -> RefusedFile:
    return RefusedFile(
        in_column(where, told.name),
        phrase(COLUMN_TYPE, kind=str(wrong)),
        told.expected(),
        phrase(WRITE_FITTING_TYPE),
    )
