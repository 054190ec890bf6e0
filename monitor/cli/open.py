"""Opening a ledger for a command: one of an older release is brought up to this one first, with a bar to watch."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

from monitor.cli.terminal import ERR, label, say

if TYPE_CHECKING:
    from monitor.ledger import Ledger
    from monitor.load.report import Steps

LedgerFolder = Annotated[Path, typer.Option("--ledger", help="Folder of the ledger.", show_default=False)]

_OLDER = (
    "An older release reckoned this ledger by other rules: it is reckoned anew once, which may take a while. "
    "Stopping is safe; nothing changes until all of it is done. A copy of it as it is: stop, then run "
    "strokeledger backup."
)


def open_current(path: Path, create: bool = False) -> Ledger:
    """Open the ledger in a folder, reckoned by the rules of this release; raises LedgerError as `Ledger.open` does."""
    from monitor.ledger import Ledger

    ledger = Ledger.open(path, create=create)
    try:
        if not ledger.snapshot().is_reckoned:
            from monitor.load.upgrade import upgrade_facts

            say(_OLDER, to=ERR)
            with progress() as steps:
                report = upgrade_facts(ledger, steps)
            folds = report.refolded.folds if report.refolded else 0
            say(f"{folds} press-days reckoned anew; ledger version {report.version}", to=ERR)
    except BaseException:
        ledger.close()
        raise
    return ledger


@contextmanager
def progress() -> Iterator[Steps]:
    """Show how far a load is for as long as the block lasts."""
    from monitor.load.report import Steps

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=ERR, transient=True) as bar:
        files = bar.add_task("Reading files")
        presses = bar.add_task("Reckoning presses", total=None)

        def on_file(done: int, of: int, name: str) -> None:
            bar.update(files, completed=done, total=of, description=f"Reading {label(name)}")

        def on_press(done: int, of: int) -> None:
            bar.update(files, completed=bar.tasks[0].total or 0)
            bar.update(presses, completed=done, total=of)

        yield Steps(on_file, on_press)
