"""Reads a small file given as text, and checks on every read that the rows add up."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from monitor.intake import Rejected, find_files, read

KNOWN: dict[str, frozenset[str]] = {
    "presses": frozenset({"P07", "P08"}),
    "dies": frozenset({"D-12"}),
    "coils": frozenset({"C-1", "C-2"}),
    "reels": frozenset({"R-1"}),
    "parts": frozenset({"bracket"}),
    "reasons": frozenset({"BRK", "DCH"}),
    "causes": frozenset({"BUR", "SLG"}),
    "materials": frozenset({"DC01"}),
    "inspections": frozenset({"I-1"}),
    "containers": frozenset({"T-1", "T-2"}),
}


@dataclass(frozen=True)
class Taken:
    """Everything that came out of one file."""

    rows: list[dict[str, Any]]
    rejected: list[Rejected]
    notes: list[str]
    batches: int
    schema: pa.Schema
    named: list[tuple[str, tuple[str, ...]]]

    @property
    def lines(self) -> list[int]:
        return [row["line"] for row in self.rows]

    @property
    def reasons(self) -> dict[int, str]:
        return {rejected.line: rejected.reason for rejected in self.rejected}

    def column(self, name: str) -> list[Any]:
        return [row[name] for row in self.rows]


def take_file(path: Path, zone: str = "Europe/Berlin", known: Mapping[str, frozenset[str]] = KNOWN) -> Taken:
    [source] = find_files([path])
    batches = list(read(source, zone=zone, known=known))
    for batch in batches:
        assert batch.read == batch.rows.num_rows + len(batch.rejected)
    table = pa.concat_tables([batch.rows for batch in batches])
    rejected = [one for batch in batches for one in batch.rejected]
    notes = [note for batch in batches for note in batch.notes]
    named = [(mention.column, mention.value) for batch in batches for mention in batch.mentions]
    lines = table["line"].to_pylist() + [one.line for one in rejected]
    assert len(set(lines)) == len(lines), "a line came out twice"
    return Taken(table.to_pylist(), rejected, notes=notes, batches=len(batches), schema=table.schema, named=named)


def take(folder: Path, name: str, text: str | bytes, zone: str = "Europe/Berlin") -> Taken:
    path = folder / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return take_file(path, zone)


def take_table(folder: Path, name: str, table: pa.Table, zone: str = "Europe/Berlin") -> Taken:
    path = folder / name
    pq.write_table(table, path)
    return take_file(path, zone)


def utc(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text + "+00:00")
