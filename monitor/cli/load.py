"""The command `strokeledger load`: files into the ledger, and what became of their rows."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from monitor.cli.open import LedgerFolder, open_current, progress
from monitor.cli.terminal import ERR, say

if TYPE_CHECKING:
    from monitor.intake import Profile
    from monitor.ledger import Ledger
    from monitor.load.report import FileReport, LoadReport

app = typer.Typer()

_MOST_NOTES = 20


@app.command("load")
def load_command(
    paths: Annotated[list[Path], typer.Argument(help="Files or folders to load: CSV, Parquet, plant.toml.")],
    ledger: LedgerFolder,
    correct: Annotated[
        bool, typer.Option("--correct", help="Take rows that contradict stored ones as corrections.")
    ] = False,
    profile: Annotated[
        Path | None, typer.Option("--profile", help="Column profile for the text files that it fits.")
    ] = None,
) -> None:
    """Load counter, coil, stop and inspection files; loading a file again changes nothing."""
    from monitor.intake import read_profile

    told = read_profile(profile)[0] if profile else None
    with open_current(ledger, create=True) as book:
        report = load_and_report(paths, book, correct, told)
    if any(file.refused for file in report.files):
        raise typer.Exit(1)


def load_and_report(
    paths: Sequence[Path],
    ledger: Ledger,
    correct: bool = False,
    profile: Profile | None = None,
    now_us: int | None = None,
) -> LoadReport:
    """Load files into a ledger and print, file by file, how their rows add up; see `load`."""
    from monitor.contradictions import new_ones, summary
    from monitor.enter.holds import new_hold_places
    from monitor.load.files import load

    before = ledger.version
    with progress() as steps:
        report = load(paths, ledger, correct=correct, profile=profile, steps=steps, now_us=now_us)
    _print_report(report)
    for line in new_hold_places(ledger, before):
        say(f"HELD     {line}", to=ERR)
    for line in summary(new_ones(ledger, before, report.since_us)):
        say(f"CHECK    {line}", to=ERR)
    return report


def _print_report(report: LoadReport) -> None:
    """Print the closing sum of every file that is not simply new, and of all together."""
    for file in report.files:
        if file.refused:
            say(f"refused  {file.file}: {file.refused}", to=ERR, bold=bool(file.defect))
        elif file.set_aside or file.already_in is not None:
            again = f"  (already in as load {file.already_in})" if file.already_in is not None else ""
            say(f"{file.file}: {_sums([file])}{again}", to=ERR)
        for note in file.notes[:_MOST_NOTES]:
            say(f"note     {file.file}: {note}", to=ERR)
    say(f"{len(report.files)} files: {_sums(report.files)}", to=ERR)
    say(*(f"clock    {told}" for told in report.clocks), to=ERR)
    say(*report.recounted, to=ERR)
    if report.released:
        say(f"{report.released} rows that had been waiting came in", to=ERR)
    say(*report.glitches, to=ERR)
    if report.glitches or any(file.set_aside for file in report.files):
        say("why rows were set aside: strokeledger figures set_aside --ledger …", to=ERR)
    folds = report.refolded.folds if report.refolded else 0
    say(f"{folds} press-days reckoned; ledger version {report.version}", to=ERR)


def _sums(files: Sequence[FileReport]) -> str:
    names = ("read", "new", "repeated", "corrected", "set_aside")
    read, new, repeated, corrected, set_aside = (sum(getattr(file, name) for file in files) for name in names)
    return (
        f"{read:,} rows read = {new:,} new + {repeated:,} repeated + {corrected:,} corrected + {set_aside:,} set aside"
    )
