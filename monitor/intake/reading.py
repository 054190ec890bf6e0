"""Reads one file into batches of accepted rows and rows set aside."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pyarrow as pa

from monitor.intake.batch import Batch, Rejected
from monitor.intake.checks import Known, check_references, check_rows, unknown_mentions
from monitor.intake.chunk import Raw, understand
from monitor.intake.csv_rows import csv_rows
from monitor.intake.parquet_rows import parquet_rows
from monitor.intake.settle import Held
from monitor.intake.sources import Source
from shared.errors import RefusedFile
from shared.table import Table
from shared.tables import TABLES


def read(source: Source, *, zone: str, known: Mapping[str, frozenset[str]]) -> Iterator[Batch]:
    """The rows of one file, at most about a million a batch; in every batch read = rows + rejected.

    `zone` is the plant's time zone, `known` the identifiers of each table that rows may refer to.  Rows in an hour
    that the clock change repeats come in the last batch.  Raises RefusedFile where the file cannot be taken; then
    nothing of it may be kept, the batches already given included.
    """
    table = TABLES.get(source.table)
    if source.refused or table is None:
        seen = source.refused or "not a table"
        raise RefusedFile(source.path.name, seen, "a table of the data contract", "Rename the file, or leave it out")
    rows = parquet_rows(source.path, table) if source.format == "parquet" else csv_rows(source.path, table)
    yield from _batches(rows, table, zone, Known(known), source.path.name)


def reread(table: str, rows: Sequence[tuple[int, str]], *, zone: str, known: Mapping[str, frozenset[str]]) -> Batch:
    """Rows that were set aside, as (line, row as JSON) in file order, looked at again."""
    raw = _from_json(TABLES[table], rows)
    batches = list(_batches([raw], TABLES[table], zone, Known(known), table))
    return Batch(
        pa.concat_tables(batch.rows for batch in batches),
        [rejected for batch in batches for rejected in batch.rejected],
        sum(batch.read for batch in batches),
        notes=tuple(note for batch in batches for note in batch.notes),
    )


def _batches(rows: Iterable[Raw], table: Table, zone: str, known: Known, where: str) -> Iterator[Batch]:
    held, told = Held(), set[str]()
    for raw in rows:
        chunk = understand(raw, table, zone, where)
        check_references(chunk, table, known)
        notes = _fresh(_ignored(raw, table) + unknown_mentions(chunk, table, known), told)
        chunk = held.hold(chunk, table)
        check_rows(chunk, table)
        yield chunk.batch(table, raw.rejected, notes)
    settled = held.settle(table, zone)
    if settled:
        check_rows(settled, table)
        yield settled.batch(table, [], ())


def _ignored(raw: Raw, table: Table) -> list[str]:
    return [f"column {name[:60]!r} is not part of {table.name} and is left out" for name in raw.ignored]


def _fresh(notes: list[str], told: set[str]) -> tuple[str, ...]:
    """Remarks not made before on this file."""
    fresh = dict.fromkeys(note for note in notes if note not in told)
    told.update(fresh)
    return tuple(fresh)


def _from_json(table: Table, rows: Sequence[tuple[int, str]]) -> Raw:
    objects: list[dict[str, Any]] = []
    lines, rejected = [], []
    for line, text in rows:
        row = _object(text)
        if row is None:
            reason = "the row was not cut into cells, expected a JSON object of column and value"
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
