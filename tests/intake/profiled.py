"""Reads a file by a profile, and checks on every read that the rows add up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pyarrow as pa

from monitor.intake import Profile, Rejected, Source, read
from monitor.intake.profiles import Limits
from tests.intake.taking import KNOWN

PRESSES: Mapping[str, frozenset[str]] = KNOWN | {"presses": frozenset({"P05", "P06", "P07", "P08"})}


@dataclass(frozen=True)
class Profiled:
    rows: list[dict[str, Any]]
    rejected: list[Rejected]
    notes: list[str]
    outside: int
    read: int

    @property
    def reasons(self) -> dict[int, str]:
        return {rejected.line: rejected.reason for rejected in self.rejected}

    def cells(self, *names: str) -> list[tuple[Any, ...]]:
        return [tuple(row[name] for name in names) for row in self.rows]


def read_profiled(path: Path, profile: Profile, zone: str = "Europe/Berlin", limits: Limits | None = None) -> Profiled:
    source = Source(path, profile.table, "profile", profile=profile)
    batches = list(read(source, zone=zone, known=PRESSES, limits=limits))
    for batch in batches:
        lines = batch.rows.column("line").to_pylist()
        assert len(set(lines)) == len(lines), "a line came out twice in one batch"
        assert batch.read == len(lines) + len(batch.rejected)
    return Profiled(
        pa.concat_tables([batch.rows for batch in batches]).to_pylist(),
        [one for batch in batches for one in batch.rejected],
        [note for batch in batches for note in batch.notes],
        sum(batch.outside for batch in batches),
        sum(batch.read for batch in batches),
    )


def read_text(folder: Path, text: str | bytes, profile: str, name: str = "log.csv", **more: Any) -> Profiled:
    path = folder / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_profiled(path, Profile.from_toml(profile, "test"), **more)
