"""The command `strokeledger`: load files, ask for figures, serve the board, run the demo."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from enum import Enum
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

from monitor.cli_enter import app as enter_app
from monitor.cli_evidence import app as evidence_app
from monitor.cli_handover import app as handover_app
from monitor.cli_hold import app as hold_app
from monitor.cli_keep import app as keep_app
from monitor.cli_profile import app as profile_app
from monitor.cli_set_aside import app as set_aside_app
from monitor.cli_watch import app as watch_app
from monitor.cli_watch import ended_by_signal, watching
from monitor.cli_week import app as week_app
from monitor.exporting import Format, without_commands, write
from monitor.figures import AVAILABLE, SHARPENING_PIECES, figure
from monitor.holding import newly_biting
from monitor.intake import Profile, read_profile
from monitor.ledger import Ledger
from monitor.loading import load
from monitor.reporting import FileReport, LoadReport, Steps
from shared.errors import RequestError, StrokeledgerError

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="What the press line did, from its counters: output, stops, coil use and scrap by cause.\n\n"
    "It reads files after the event. It is no safety device and controls no press; "
    "nobody reaches into a die on its word.",
)

FigureName = Enum("FigureName", {name: name for name in AVAILABLE}, type=str)  # type: ignore[misc]

LedgerFolder = Annotated[Path, typer.Option("--ledger", help="Folder of the ledger.", show_default=False)]
DEMO_LEDGER = Path("demo_ledger")
_MOST_NOTES = 20
SAMPLE = Path(__file__).parents[1] / "sample_runs" / "fortnight"

_told = Console(stderr=True, highlight=False)

app.add_typer(profile_app, name="profile")
app.add_typer(keep_app)
app.add_typer(week_app)
app.add_typer(evidence_app)
app.add_typer(handover_app)
app.add_typer(watch_app)
app.add_typer(enter_app, name="enter")
app.add_typer(hold_app, name="hold")
app.add_typer(set_aside_app, name="set-aside")


def main() -> None:
    """Run the command; what goes wrong is told in one sentence, never as a traceback."""
    try:
        app()
    except StrokeledgerError as error:
        _told.print(escape(str(error)), style="bold")
        sys.exit(1)
    except BrokenPipeError:
        sys.exit(1)  # Whoever read the output has stopped reading.
    except Exception as error:
        if os.environ.get("STROKELEDGER_TRACEBACK"):
            raise
        told = f"{type(error).__name__}: {error}; the ledger is as it was. "
        _told.print(escape(told + "Set STROKELEDGER_TRACEBACK=1 and run it again to see where."), style="bold")
        sys.exit(1)


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
    told = read_profile(profile)[0] if profile else None
    with Ledger.open(ledger, create=True) as book:
        report = _load(paths, book, correct, told)
    if any(file.refused for file in report.files):
        raise typer.Exit(1)


@app.command("figures")
def figures_command(
    name: Annotated[FigureName, typer.Argument(help="Which table.")],
    ledger: LedgerFolder,
    from_: Annotated[str | None, typer.Option("--from", help="First plant day or moment, included.")] = None,
    to: Annotated[str | None, typer.Option("--to", help="Plant day or moment of the end, not included.")] = None,
    press: Annotated[str | None, typer.Option(help="Only this press.")] = None,
    die: Annotated[str | None, typer.Option(help="Only this die.")] = None,
    part: Annotated[str | None, typer.Option(help="Only this part.")] = None,
    format_: Annotated[Format, typer.Option("--format", help="How to write it.")] = Format.TABLE,
    out: Annotated[Path | None, typer.Option(help="File to write to instead of the screen.")] = None,
    sharpening_pieces: Annotated[
        float, typer.Option(help="For service: rejected pieces that one sharpening is worth.")
    ] = SHARPENING_PIECES,
) -> None:
    """Write one table of figures: output by shift or hour, stops, coils, scrap, what moves it, wear, rows set aside."""
    with Ledger.open(ledger) as book:
        table = figure(
            book, name.value, from_=from_, to=to, press=press, die=die, part=part, sharpening_pieces=sharpening_pieces
        )
    write(table, format_, out)


@app.command("serve")
def serve_command(
    ledger: LedgerFolder,
    host: Annotated[str, typer.Option(help="Address to listen on; 127.0.0.1 is this computer alone.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(help="Port to listen on.", min=1, max=65535)] = 8050,
    watch: Annotated[Path | None, typer.Option("--watch", help="Load what loggers put into this folder.")] = None,
) -> None:
    """Show the board and the die page in a browser."""
    from dashboards import serve  # Dash takes a second to import, which the other commands need not wait for.

    Ledger.open(ledger, create=True).close()
    _told.print(f"Board at http://{host}:{port}/  (stop with Ctrl+C)")
    with watching(watch, ledger), ended_by_signal():
        serve(ledger, host=host, port=port)


@app.command("demo")
def demo_command(
    ledger: Annotated[Path, typer.Option("--ledger", help="Folder for the demo's ledger.")] = DEMO_LEDGER,
    port: Annotated[int, typer.Option(help="Port to listen on.", min=1, max=65535)] = 8050,
    only_load: Annotated[bool, typer.Option("--only-load", help="Load the sample and stop.")] = False,
) -> None:
    """Load an invented plant's fortnight and show it in a browser."""
    if not SAMPLE.is_dir():
        raise RequestError("demo", f"no folder {SAMPLE.name}", "the sample plant", "run this from a full checkout")
    with Ledger.open(ledger, create=True) as book:
        _load([SAMPLE], book, correct=False)
        table = figure(book, "shifts")
    write(table.tail(12), Format.TABLE, None)
    if not only_load:
        serve_command(ledger, port=port)


def _load(paths: list[Path], ledger: Ledger, correct: bool, profile: Profile | None = None) -> LoadReport:
    before = ledger.version
    with _steps() as steps:
        report = load(paths, ledger, correct=correct, profile=profile, steps=steps)
    _print_report(report)
    for line in newly_biting(ledger, before):
        _told.print(f"HELD     {escape(without_commands(line))}")
    return report


@contextmanager
def _steps() -> Iterator[Steps]:
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=_told, transient=True) as progress:
        files = progress.add_task("Reading files")
        presses = progress.add_task("Reckoning presses", total=None)

        def on_file(done: int, of: int, name: str) -> None:
            progress.update(files, completed=done, total=of, description=f"Reading {escape(name[:40])}")

        def on_press(done: int, of: int) -> None:
            progress.update(files, completed=progress.tasks[0].total or 0)
            progress.update(presses, completed=done, total=of)

        yield Steps(on_file, on_press)


def _print_report(report: LoadReport) -> None:
    """Print the closing sum of every file that is not simply new, and of all together."""
    for file in report.files:
        if file.refused:
            _told.print(f"refused  {escape(file.file)}: {escape(file.refused)}")
        elif file.set_aside or file.already_in is not None:
            again = f"  (already in as load {file.already_in})" if file.already_in is not None else ""
            _told.print(f"{escape(file.file)}: {_sums([file])}{again}")
        for note in file.notes[:_MOST_NOTES]:
            _told.print(f"note     {escape(file.file)}: {escape(note)}")
    _told.print(f"{len(report.files)} files: {_sums(report.files)}")
    for told in report.clocks:
        _told.print(f"clock    {escape(without_commands(told))}")
    if report.released:
        _told.print(f"{report.released} rows that had been waiting came in")
    for told in report.glitches:
        _told.print(escape(without_commands(told)), soft_wrap=True)
    if report.glitches or any(file.set_aside for file in report.files):
        _told.print("why rows were set aside: strokeledger figures set_aside --ledger …")
    folds = report.refolded.folds if report.refolded else 0
    _told.print(f"{folds} press-days reckoned; ledger version {report.version}")


def _sums(files: Sequence[FileReport]) -> str:
    names = ("read", "new", "repeated", "corrected", "set_aside")
    read, new, repeated, corrected, set_aside = (sum(getattr(file, name) for file in files) for name in names)
    return (
        f"{read:,} rows read = {new:,} new + {repeated:,} repeated + {corrected:,} corrected + {set_aside:,} set aside"
    )
