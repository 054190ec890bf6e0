"""Backup and restore: a copy of a ledger that is whole, made while others read and write."""

from __future__ import annotations

import os
import shutil
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from monitor.ledger import Finding, Ledger
from monitor.plant.book import plant_of
from shared.errors import LedgerError, PlantError

_WAIT_S = 60.0
_UNFINISHED = ".unfinished"
_REGISTERS = "*.jsonl"


@dataclass(frozen=True)
class Copied:
    """What a copy holds [bytes], and what of the ledger it lacks or holds damaged, each with how to mend it."""

    size: int
    lacking: list[Finding]


def backup(ledger: Ledger, to: Path, link: bool = False) -> Copied:
    """Copy a ledger as it is at one moment into a new folder; returns what was copied, and what could not be.

    The folder gets its name only when all of it is there.  What the ledger itself lacks is left out and told of: the
    rest is kept.  With `link`, files of parts, which never change, are linked where the disk allows it, and not read:
    quick, but what damages one damages the other.  Raises LedgerError where the folder exists or cannot be written.
    """
    if to.exists():
        raise LedgerError(str(to), "a folder that is there already", "a new folder", "name another")
    made = to.with_name(to.name + _UNFINISHED)
    shutil.rmtree(made, ignore_errors=True)
    new_folders = [one for one in made.parents if not one.exists()]
    try:
        (made / "parts").mkdir(parents=True)
        # Files that the copied catalogue names must not be deleted before they are copied.
        with ledger.keeper.files_kept(_WAIT_S):
            ledger.keeper.copy_catalogue(made / "catalogue.sqlite")
            with Ledger.open(made) as copy:
                size = sum(_take(ledger.root / file, made / file, link) for file in sorted(copy.keeper.file_names()))
                lacking = [] if link else _lacking(copy)
                logo = _logo_of(copy)
            # Registers of reports grow at their end, so they are copied, never linked.
            beside = [*sorted(ledger.root.glob(_REGISTERS)), *([ledger.root / logo] if logo else [])]
            size += sum(_take(file, made / file.name, link=False) for file in beside)
        made.rename(to)
    except OSError as error:
        seen, room = error.strerror or str(error), "a folder with free space that can be written to"
        raise LedgerError(str(to), seen, room, "name another") from error
    finally:
        shutil.rmtree(made, ignore_errors=True)
        for one in new_folders:  # The innermost first; one that holds the copy is not empty.
            with suppress(OSError):
                one.rmdir()
    if logo and not (to / logo).exists():
        mend = "copy the file into the folder of the ledger, or take the logo out of plant.toml"
        lacking.append(Finding(f"the logo {logo} that plant.toml names is missing", mend))
    return Copied(size + (to / "catalogue.sqlite").stat().st_size, lacking)


def restore(source: Path, to: Path) -> Copied:
    """Put a backup in the place of a ledger that is missing or empty; returns what was copied, as `backup` does.

    Raises LedgerError where there is a ledger already.
    """
    if to.exists() and any(to.iterdir()):
        raise LedgerError(
            str(to),
            "a folder that is not empty",
            "a new or empty folder",
            "move the damaged ledger out of the way first",
        )
    with Ledger.open(source) as copy:
        if to.exists():
            to.rmdir()
        return backup(copy, to)


def _lacking(copy: Ledger) -> list[Finding]:
    """What a copy lacks: its catalogue and every file of it are read."""
    about_files, _, _ = copy.keeper.inspector.files()
    return copy.keeper.inspector.catalogue() + about_files


def _logo_of(copy: Ledger) -> str:
    """Return the name of the logo on the plant's papers, empty where there is none or the plant cannot be read."""
    try:
        return plant_of(copy.snapshot().plant_text()).report.logo
    except PlantError:
        return ""


def _take(source: Path, to: Path, link: bool) -> int:
    """Copy a file; one that is missing is left out and found by a check."""
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
