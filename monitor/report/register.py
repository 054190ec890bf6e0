"""The register of reports that were sent: a line of JSON each, only ever added to, in the folder of the ledger."""

from __future__ import annotations

import errno
import json
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path

import pandas as pd

from monitor.report.view import CustomerWeek
from shared.errors import LedgerError
from shared.phrases import phrase

REGISTER = "sent_reports.jsonl"
#: The same of reports that were made because they were due; `sent_at` is when, `by` is empty.
MADE = "made_reports.jsonl"

#: Figures that are compared with a later report: table -> what names a row, and the columns.
KEPT: Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "parts": (
        ("part_no",),
        (
            "made", "setup_pieces", "rejected", "reworked", "good", "shipped", "complaint_pieces", "accepted_pieces",
            "disputed",
        ),
    ),
    "rejects": (("part_no", "kind", "cause"), ("inspected", "rejected")),
    "actions": (("part_no", "cause"), ("done",)),
    "lots": (("part_no", "lot", "heat"), ("filled_pieces", "shipped_pieces")),
    "complaints": (("complaint_id",), ("pieces", "standing")),
    "holds": (("hold_id",), ("pieces_here", "pieces_shipped")),
}  # fmt: skip


@dataclass(frozen=True)
class SentReport:
    """A report as it was sent: `files` are SHA-256 by file name, `figures` what can be compared, as text.

    `by` is who sent it, empty where nobody was named."""

    customer: str
    week: str
    version: int
    sent_at: str
    figures_hash: str
    files: Mapping[str, str]
    figures: Mapping[str, str]
    by: str = ""


@dataclass(frozen=True)
class FigureChange:
    """A figure that differs from the one sent; empty where there was none, or is none any more."""

    name: str
    was: str
    now: str


def figures_of(view: CustomerWeek) -> dict[str, str]:
    """Return the figures of a view that are kept, by name such as `parts|B-7|made`."""
    found: dict[str, str] = {}
    for table, (key, columns) in KEPT.items():
        for row in view.tables[table].to_dict("records"):
            place = "|".join([table, *(str(row[name]).replace("|", "/") for name in key)])
            found |= {f"{place}|{c}": str(row[c]) for c in columns if not pd.isna(row[c])}
    return found


def changes(sent: SentReport, view: CustomerWeek) -> list[FigureChange]:
    """Return what differs from a report that was sent, in the order of the report."""
    now = figures_of(view)
    names = dict.fromkeys([*now, *sent.figures])
    pairs = ((name, sent.figures.get(name, ""), now.get(name, "")) for name in names)
    return [FigureChange(*pair) for pair in pairs if pair[1] != pair[2]]


def add(root: Path, sent: SentReport, register: str = REGISTER) -> None:
    """Add a report to a register of a ledger: on disk as a whole before this returns.

    Raises LedgerError where the folder cannot be written to.
    """
    path = root / register
    line = json.dumps(asdict(sent), ensure_ascii=False, sort_keys=True) + "\n"
    try:
        # One write to the end of the file: two programs cannot write into one another's line.
        with path.open("ab+", buffering=0) as file:
            if file.seek(0, os.SEEK_END) and (file.seek(-1, os.SEEK_END), file.read(1))[1] != b"\n":
                line = "\n" + line
            if file.write(line.encode()) != len(line.encode()):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            os.fsync(file.fileno())
    except OSError as error:
        mend = phrase("mend the disk or its rights, then mark the report as sent again")
        expected = phrase("a file that can be added to")
        raise LedgerError(str(path), error.strerror or str(error), expected, mend) from error


def read(root: Path, register: str = REGISTER) -> list[SentReport]:
    """Return the reports sent, or those of another register, in order; a line that a crash cut short is passed over."""
    path = root / register
    if not path.is_file():
        return []
    found = []
    for line in path.read_text("utf-8", errors="replace").splitlines():
        try:
            found.append(SentReport(**json.loads(line)))
        except (ValueError, TypeError):
            continue
    return found


def last_sent(root: Path, customer: str, week: str, before: int | None = None) -> SentReport | None:
    """Return the report last sent to a customer about a week, or the last one from a version earlier than `before`.

    What is made again is held against an earlier version only: sent or not, the same version gives the same report.
    """
    sent = (entry for entry in reversed(read(root)) if entry.customer == customer and entry.week == week)
    return next((entry for entry in sent if before is None or entry.version < before), None)
