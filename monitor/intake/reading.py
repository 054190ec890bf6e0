"""Reads one file into batches of accepted rows and rows set aside."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pyarrow as pa

from monitor.intake.batch import Batch, Mention, Rejected
from monitor.intake.checks import Known, check_references, check_rows, mentions_of
from monitor.intake.chunk import Raw, understand
from monitor.intake.csv.rows import csv_rows
from monitor.intake.parquet.rows import parquet_rows
from monitor.intake.plausible import Plausible
from monitor.intake.profiles import Limits, profile_rows
from monitor.intake.settle import HeldRows
from monitor.intake.sources import Source
from monitor.intake.whole_file import Together
from shared.calendar import Calendar
from shared.errors import RefusedFile
from shared.phrases import phrase
from shared.reasons.files import NOT_A_TABLE, RENAME_OR_LEAVE_OUT, TABLE_OR_FITTING_PROFILE
from shared.reasons.rows import ROW_NOT_CUT
from shared.table import Table
from shared.tables import TABLES

_MOST_NOTES = 20

#: Names that a file can leave to be looked up at the end of a load; what goes beyond them is not remarked on.
_MOST_MENTIONS = 100_000


def read(
    source: Source,
    *,
    zone: str,
    known: Mapping[str, frozenset[str]],
    limits: Limits | None = None,
    plausible: Plausible | None = None,
    calendar: Calendar | None = None,
) -> Iterator[Batch]:
    """The rows of one file, at most about a million a batch; in every batch read = rows + rejected.

    `zone` is the plant's time zone, `known` the identifiers of each table that rows may refer to, `limits` those of
    the plant book, which a profile compares with the ones in a file, `plausible` the time rows may lie in,
    `calendar` the plant days that bare dates mean (midnight to midnight where left out).  Rows in an hour that the
    clock change repeats come in the last batch, and no batch holds two rows of one line.  Raises RefusedFile where the
    file cannot be taken; then nothing of it may be kept, the batches already given included.
    """
    table = TABLES.get(source.table)
    if source.refused or table is None:
        seen = source.refused or phrase(NOT_A_TABLE)
        mend = phrase(RENAME_OR_LEAVE_OUT)
        raise RefusedFile(source.name, seen, phrase(TABLE_OR_FITTING_PROFILE), mend)
    how = _As(zone, plausible, Known(known), source.name, calendar)
    batches = _batches(_raw_rows(source, table, limits), table, how)
    yield from (part for batch in batches for part in _line_by_line(batch)) if source.profile else batches


def _raw_rows(source: Source, table: Table, limits: Limits | None) -> Iterator[Raw]:
    if source.profile:
        return profile_rows(source.path, source.profile, limits)
    return parquet_rows(source.path, table) if source.format == "parquet" else csv_rows(source.path, table)


def _line_by_line(batch: Batch) -> Iterator[Batch]:
    """The batch in parts of which none holds a line twice, so that a line says which row is meant."""
    lines = batch.rows.column("line").to_numpy()
    order = np.argsort(lines, kind="stable")
    starts = np.flatnonzero(np.diff(lines[order], prepend=-1))
    turn = np.empty(len(lines), dtype=np.int64)
    turn[order] = np.arange(len(lines)) - np.repeat(starts, np.diff(np.append(starts, len(lines))))
    rest = batch
    for number in range(int(turn.max(initial=0)) + 1):
        rows = batch.rows.filter(pa.array(turn == number))
        yield Batch(
            rows,
            rest.rejected,
            read=len(rows) + len(rest.rejected),
            outside=rest.outside,
            notes=rest.notes,
            mentions=rest.mentions,
        )
        rest = Batch(rows, [], 0)


def reread(
    table: str,
    rows: Sequence[tuple[int, str]],
    *,
    zone: str,
    known: Mapping[str, frozenset[str]],
    plausible: Plausible | None = None,
    calendar: Calendar | None = None,
) -> Batch:
    """Rows that were set aside, as (line, row as JSON) in file order, looked at again each for itself.

    Whether the rows of an inspection add up is not looked at: others of them may be stored.
    """
    raw = _from_json(TABLES[table], rows)
    batches = list(_batches([raw], TABLES[table], _As(zone, plausible, Known(known), table, calendar), sums=False))
    return Batch(
        pa.concat_tables(batch.rows for batch in batches),
        [rejected for batch in batches for rejected in batch.rejected],
        sum(batch.read for batch in batches),
        notes=tuple(note for batch in batches for note in batch.notes),
    )


@dataclass(frozen=True)
class _As:
    """How rows are to be understood: plant time, the time they may lie in, known ids, and where they come from."""

    zone: str
    plausible: Plausible | None
    known: Known
    where: str
    calendar: Calendar | None


def _batches(rows: Iterable[Raw], table: Table, how: _As, sums: bool = True) -> Iterator[Batch]:
    held, together, told, named = HeldRows(), Together(table, how.where), set[str](), set[Mention]()
    for raw in rows:
        chunk = understand(raw, table, zone=how.zone, where=how.where, plausible=how.plausible, calendar=how.calendar)
        check_references(chunk, table, how.known)
        notes = _fresh([*raw.notes, *_ignored(raw, table)], told)
        mentions = _named_first(mentions_of(chunk, table, how.known), named)
        chunk = together.keep(held.hold(chunk, table))
        check_rows(chunk, table, how.zone, sums)
        yield replace(chunk.batch(table, raw.rejected, notes), outside=raw.outside, mentions=mentions)
    settled = held.settle(table, how.zone)
    for last in (together.keep(settled) if settled else None, together.all()):
        if last:
            check_rows(last, table, how.zone, sums)
            yield last.batch(table, [], ())


def _ignored(raw: Raw, table: Table) -> list[str]:
    told = [f"column {name[:60]!r} is not part of {table.name} and is left out" for name in raw.ignored[:_MOST_NOTES]]
    more = len(raw.ignored) - len(told)
    return [*told, f"{more:,} more columns are not part of {table.name}"] if more else told


def _fresh(notes: list[str], told: set[str]) -> tuple[str, ...]:
    """Remarks not made before on this file."""
    fresh = dict.fromkeys(note for note in notes if note not in told)
    told.update(fresh)
    return tuple(fresh)


def _named_first(mentions: list[Mention], named: set[Mention]) -> tuple[Mention, ...]:
    """What was not named before in this file, as far as there is room to keep it."""
    fresh = [mention for mention in mentions if mention not in named][: _MOST_MENTIONS - len(named)]
    named.update(fresh)
    return tuple(fresh)


def _from_json(table: Table, rows: Sequence[tuple[int, str]]) -> Raw:
    objects: list[dict[str, Any]] = []
    lines, rejected = [], []
    for line, text in rows:
        row = _object(text)
        if row is None:
            reason = phrase(ROW_NOT_CUT)
            rejected.append(Rejected(line, reason, text))
        else:
            objects.append(row)
            lines.append(line)
    names = [name for name in table.columns if name in table.required or any(name in row for row in objects)]
    arrays = [pa.array([_cell(row.get(name)) for row in objects], pa.string()) for name in names]
    return Raw(pa.RecordBatch.from_arrays(arrays, names=names), np.array(lines, dtype=np.int64), rejected)


def _object(text: str) -> dict[str, Any] | None:
    try:
        row = json.loads(text)
    except ValueError:
        return None
    return row if isinstance(row, dict) else None


def _cell(value: object) -> str | None:
    return None if value is None else str(value)
