"""Backup and restore: a copy of a ledger that is whole, made while others read and write."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from monitor.ledger import Ledger
from shared.errors import LedgerError

_WAIT_S = 60.0
_UNFINISHED = ".unfinished"
_REGISTERS = "*.jsonl"


def backup(ledger: Ledger, to: Path, link: bool = False) -> int:
    """Copy a ledger as it is at one moment into a new folder; returns the bytes copied.

    The folder gets its name only when all of it is there.  With `link`, files of parts, which never change, are linked
    where the disk allows it: quick, but what damages one damages the other.  Raises LedgerError where the folder
    exists or cannot be written.
    """
    if to.exists():
        raise LedgerError(str(to), "a folder that is there already", "a new folder", "name another")
    made = to.with_name(to.name + _UNFINISHED)
    shutil.rmtree(made, ignore_errors=True)
    try:
        (made / "parts").mkdir(parents=True)
        # Files that the copied catalogue names must not be deleted before they are copied.
        with ledger.keeper.files_kept(_WAIT_S):
            ledger.keeper.copy_catalogue(made / "catalogue.sqlite")
            with Ledger.open(made) as copy:
                size = sum(_take(ledger.root / file, made / file, link) for file in sorted(copy.keeper.file_names()))
            # Registers of reports grow at their end, so they are copied, never linked.
            size += sum(_take(file, made / file.name, link=False) for file in sorted(ledger.root.glob(_REGISTERS)))
        made.rename(to)
    except OSError as error:
        shutil.rmtree(made, ignore_errors=True)
        raise LedgerError(str(to), f"{error.strerror or error}", "a folder with free space", "name another") from error
    return size + (to / "catalogue.sqlite").stat().st_size


def restore(source: Path, to: Path) -> None:
    """Put a backup in the place of a ledger that is missing or empty; raises LedgerError where there is one."""
    if to.exists() and any(to.iterdir()):
        raise LedgerError(
            str(to),
            "a folder that is not empty",
            "a new or empty folder",
            "move the damaged ledger out of the way first",
        )
    if to.exists():
        to.rmdir()
    with Ledger.open(source) as copy:
        backup(copy, to)


def _take(source: Path, to: Path, link: bool) -> int:
    """Take a file over; one that is missing is left out and found by a check."""
    if not source.exists():
        return 0
    if not (link and _linked(source, to)):
        shutil.copyfile(source, to)
        with to.open("rb") as copied:
            os.fsync(copied.fileno())
    return to.stat().st_size


def _linked(source: Path, to: Path) -> bool:
    try:
        to.hardlink_to(source)
    except OSError:  # The disk is another, or knows no links.
        return False
    return True
