"""The commands that look after a ledger: upkeep, check, backup and restore."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from monitor.cli.open import LedgerFolder, open_current
from monitor.cli.terminal import say
from monitor.keep import KEPT_DAYS

if TYPE_CHECKING:
    from monitor.keep.backup import Copied
    from monitor.ledger import Keeper, Ledger
    from shared.calendar import Calendar

app = typer.Typer()


@app.command("upkeep")
def upkeep_command(
    ledger: LedgerFolder,
    days: Annotated[float, typer.Option(help="Keep what was superseded for so many days.", min=0)] = KEPT_DAYS,
    list_: Annotated[bool, typer.Option("--list", help="Only list the versions that can be read.")] = False,
    pin: Annotated[str | None, typer.Option(help="Keep a version under this name until it is let go.")] = None,
    version: Annotated[int | None, typer.Option(help="The version to pin; the newest where none is named.")] = None,
    unpin: Annotated[str | None, typer.Option(help="Let the version of this name go.")] = None,
) -> None:
    """Delete what no kept version needs and merge small files; loads do this by themselves, once an hour."""
    from monitor.plant.book import plant_of
    from shared.calendar import Calendar

    with open_current(ledger) as book:
        calendar = Calendar(plant_of(book.snapshot().plant_text()))
        if pin or unpin:
            _pins(book, pin, unpin, version)
        elif not list_:
            _tidy(book, calendar, days)
        if list_:
            _list(book.keeper, calendar)


@app.command("check")
def check_command(
    ledger: LedgerFolder,
    deep: Annotated[bool, typer.Option("--deep", help="Also fold everything from scratch and compare.")] = False,
) -> None:
    """Check every file and every sum of the ledger, and say how to mend what is wrong."""
    from monitor.check import check, clocks, contradicting

    with open_current(ledger) as book:
        found = check(book, deep)
        version = book.version
        for told in [*clocks(book), *contradicting(book)]:
            say(f"note: {told}")
    for finding in found:
        say(finding.what, f"    mend: {finding.mend}")
    if found:
        raise typer.Exit(1)
    say(f"version {version}: every file is whole and every sum closes")


@app.command("backup")
def backup_command(
    to: Annotated[Path, typer.Argument(metavar="DIR", help="New folder for the copy.")], ledger: LedgerFolder
) -> None:
    """Copy the ledger as it is at one moment, while loads and readers go on."""
    from monitor.keep.backup import backup
    from monitor.ledger import Ledger

    with Ledger.open(ledger) as book:
        copied = backup(book, to)
    say(f"{copied.size / 1e6:,.1f} MB are in {to}")
    _print_lacking(copied, to)


@app.command("restore")
def restore_command(
    source: Annotated[Path, typer.Argument(metavar="DIR", help="Folder of a backup.")],
    ledger: Annotated[Path, typer.Option("--ledger", help="Folder for the ledger, new or empty.", show_default=False)],
) -> None:
    """Make a ledger out of a backup."""
    from monitor.keep.backup import restore

    copied = restore(source, ledger)
    say(f"the ledger is in {ledger}")
    _print_lacking(copied, ledger)


def _print_lacking(copied: Copied, folder: Path) -> None:
    """Say what a copy lacks, and end with 1 where it lacks anything."""
    for finding in copied.lacking:
        say(finding.what, f"    mend: {finding.mend}")
    if copied.lacking:
        say(f"incomplete: {folder} holds all the rest", bold=True)
        raise typer.Exit(1)


def _pins(book: Ledger, pin: str | None, unpin: str | None, version: int | None) -> None:
    if unpin:
        book.keeper.unpin(unpin)
        say(f"{unpin} is let go")
    if pin:
        kept = book.version if version is None else version
        book.keeper.pin(pin, kept)
        say(f"version {kept} is kept as {pin}")


def _tidy(book: Ledger, calendar: Calendar, days: float) -> None:
    from monitor.keep.retention import tidy

    before = sum(book.keeper.size_bytes())
    done = tidy(book, calendar, time.time_ns() // 1_000, days)
    book.keeper.shrink()
    after = sum(book.keeper.size_bytes())
    say(
        f"{done.versions:,} versions let go, {done.rows:,} superseded rows and {done.files:,} files deleted, "
        f"{done.compacted:,} rows merged into larger files; {before / 1e6:,.1f} MB before, {after / 1e6:,.1f} MB now"
    )
    if done.left:
        say("another program is writing: what is left is done at the end of its load, or call this again")


def _list(keeper: Keeper, calendar: Calendar) -> None:
    names = {pin.version: pin.name for pin in keeper.pins()}
    for version, committed_us in keeper.versions():
        pinned = f"  kept as {names[version]}" if version in names else ""
        say(f"{version:>8}  {calendar.local_iso([committed_us])[0][:19]}{pinned}")
