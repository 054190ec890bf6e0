"""A customer's week, made because it is due and noted as sent; what must hold of its files and of both registers."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections import Counter
from pathlib import Path
from unittest.mock import patch

from rich.console import Console

from monitor.cli import week as cli_week
from monitor.report import MADE, folder_of, read
from monitor.report.register import REGISTER
from tests.faults.plant import CUSTOMERS, WEEK

#: The Monday after the week, in the morning.
_NOW_US = int(dt.datetime(2026, 11, 9, 9, tzinfo=dt.UTC).timestamp()) * 1_000_000


def send(root: Path, out: Path) -> None:
    """Make what is due and note all of it as sent, as `strokeledger week --due --sent` does on that Monday."""
    with patch.multiple(cli_week, _now_us=lambda: _NOW_US, ERR=Console(quiet=True)):
        cli_week.week_command(root, out, WEEK, due=True, sent=True, by="K. Berg")


def faults(root: Path, out: Path, done: bool) -> list[str]:
    """What is wrong with registers and files, after a kill or, with `done`, once everything has been sent."""
    wrong: list[str] = []
    for register in (MADE, REGISTER):
        entries = read(root, register)
        noted = Counter(entry.customer for entry in entries)
        wrong += [f"doubled: {register} has {name} {noted[name]} times" for name in noted if noted[name] > 1]
        wrong += [f"lost: {register} lacks {name}" for name in CUSTOMERS if done and not noted[name]]
        for entry in entries:
            folder = out / folder_of(entry.customer, CUSTOMERS) / WEEK
            wrong += [
                f"lost: {entry.customer} is in {register}, but {name} is not what was noted"
                for name, digest in entry.files.items()
                if _digest(folder / name) != digest
            ]
    # What a kill left of a file must be gone once the file is there.
    return wrong + [f"{path.name} was left" for path in out.rglob("*.part") if done]


def digests(out: Path) -> dict[str, str]:
    """SHA-256 of every file that was made, by its place."""
    return {str(path.relative_to(out)): _digest(path) for path in sorted(out.rglob("*")) if path.is_file()}


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else ""
