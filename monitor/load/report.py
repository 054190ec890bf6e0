"""The report of a load, file by file, and rows that contradict what is stored."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import astuple, dataclass, field
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from monitor.intake import Mention, Rejected
from monitor.ledger import arrow_rows
from monitor.plant.book import Record
from monitor.refold.press_days import Progress, Refolded
from shared.phrases import Phrase
from shared.tables import TABLES


@dataclass
class FileReport:
    """What became of one file; read = new + repeated + corrected + set_aside.

    `glitches` are readings among the new that cannot be true beside the others: figures count them as set aside.
    `again` tells that it was refused for something that may pass, so that another try is worth while; `defect` is the
    traceback where it was refused for a fault of our own.  `mentions` are to be looked up once all files are in.
    """

    file: str
    table: str
    outside: int = 0
    read: int = 0
    new: int = 0
    repeated: int = 0
    corrected: int = 0
    set_aside: int = 0
    refused: str = ""
    again: bool = False
    defect: str = ""
    path: Path = field(default_factory=Path)
    already_in: int | None = None
    notes: list[str] = field(default_factory=list)
    mentions: list[Mention] = field(default_factory=list)
    glitches: int = 0

    def move(self, was: str, now: str, rows: int) -> None:
        """Count rows under another heading than before."""
        setattr(self, was, getattr(self, was) - rows)
        setattr(self, now, getattr(self, now) + rows)

    @property
    def counts(self) -> dict[str, Any]:
        """Return what the ledger keeps of it."""
        names = ("outside", "read", "new", "repeated", "corrected", "set_aside", "refused")
        return {name: getattr(self, name) for name in names}


@dataclass
class LoadReport:
    """What a load did: a report a file, rows that came in after waiting, press-days folded, the version it made.

    `clocks` tells in sentences what it found of the clocks of counters and was not known before; `since_us` is the
    earliest moment that its new rows speak of [us], None where they speak of none.  `recounted` says which rows of
    earlier files count otherwise now.
    """

    files: list[FileReport] = field(default_factory=list)
    released: int = 0
    refolded: Refolded | None = None
    version: int = 0
    clocks: list[str] = field(default_factory=list)
    since_us: int | None = None
    recounted: list[str] = field(default_factory=list)

    def followed_by(self, other: LoadReport) -> LoadReport:
        """Return one report of two loads that came one after another."""
        folded = [one.refolded for one in (self, other) if one.refolded]
        return LoadReport(
            self.files + other.files,
            self.released + other.released,
            refolded=Refolded(*(sum(counts) for counts in zip(*map(astuple, folded), strict=True))) if folded else None,
            version=max(self.version, other.version),
            clocks=self.clocks + other.clocks,
            since_us=min((one.since_us for one in (self, other) if one.since_us is not None), default=None),
            recounted=self.recounted + other.recounted,
        )

    @property
    def glitches(self) -> list[str]:
        """Return a sentence for each file some of whose readings reckoning set aside."""
        told = "of the new readings cannot be true and count as set aside"
        return [f"{file.file}: {file.glitches:,} {told}" for file in self.files if file.glitches]


@dataclass(frozen=True)
class Steps:
    """Called as a load goes on: for each file before it is read, and for each press as it is folded."""

    file: Callable[[int, int, str], None] = lambda done, of, name: None
    press: Progress = lambda done, of: None


def contradictions(rows: pa.Table, conflicts: Sequence[tuple[int, Phrase]]) -> list[Rejected]:
    """Return the rows that contradict what is stored as rows to set aside; conflicts are (line, reason)."""
    if not conflicts:
        return []
    reasons = dict(conflicts)
    held = rows.filter(pc.is_in(rows.column("line"), pa.array(list(reasons))))
    return [
        Rejected(row["line"], reasons[row["line"]], _as_json(row)) for row in held.to_pylist() if row["line"] in reasons
    ]


def as_it_came(table: str, row: Mapping[str, Any]) -> str:
    """Return a row whose columns are as SQL holds them as the text of a row that is set aside."""
    contract = TABLES[table]
    (told,) = arrow_rows(contract, [[row[name]] for name in contract.columns]).to_pylist()
    return _as_json(told)


def _as_json(row: Record) -> str:
    cells = {name: _cell(value) for name, value in row.items() if name != "line" and value is not None}
    return json.dumps(cells, ensure_ascii=False)


def _cell(value: object) -> str:
    return value.isoformat() if isinstance(value, (dt.datetime, dt.date)) else str(value)
