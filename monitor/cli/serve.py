"""The commands `strokeledger serve` and `strokeledger demo`: the pages in a browser."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from monitor.cli import terminal
from monitor.cli.load import load_and_report
from monitor.cli.open import LedgerFolder, open_current
from monitor.cli.watch import beside, ended_by_signal, say, watching
from monitor.export import Format, write
from shared.errors import RequestError

app = typer.Typer()

REPORTS = "reports"
DEMO_LEDGER = Path("demo_ledger")
#: 2026-12-01: the invented plant's days are over, whatever the clock of this computer says.
SAMPLE_MADE_US = 1_796_083_200_000_000
SAMPLE = Path(__file__).parents[2] / "sample_runs" / "fortnight"


@app.command("serve")
def serve_command(
    ledger: LedgerFolder,
    host: Annotated[str, typer.Option(help="Address to listen on; 127.0.0.1 is this computer alone.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(help="Port to listen on.", min=1, max=65535)] = 8050,
    watch: Annotated[Path | None, typer.Option("--watch", help="Load what loggers put into this folder.")] = None,
    reports: Annotated[
        Path | None,
        typer.Option("--reports", help="Folder for the reports that are due; reports in the ledger's if left out."),
    ] = None,
) -> None:
    """Show every page in a browser, and make the weekly reports that plant.toml sets a day for."""
    open_current(ledger, create=True).close()
    with watching(watch, ledger), _reporting(reports or ledger / REPORTS, ledger):
        _show(ledger, host, port)


def _show(ledger: Path, host: str, port: int) -> None:
    """Show every page until told to stop."""
    from dashboards import serve  # Dash takes a second to import, which who asks for help need not wait for.

    terminal.say(f"Board at http://{host}:{port}/  (stop with Ctrl+C)", to=terminal.ERR)
    with ended_by_signal():
        serve(ledger, host=host, port=port)


@contextmanager
def _reporting(out: Path, ledger: Path) -> Iterator[None]:
    """Make the reports that are due for as long as the block lasts."""
    from monitor.schedule import Schedule

    with open_current(ledger) as book, beside(Schedule(book, out, say).run, "strokeledger-reports"):
        yield


@app.command("demo")
def demo_command(
    ledger: Annotated[Path, typer.Option("--ledger", help="Folder for the demo's ledger.")] = DEMO_LEDGER,
    port: Annotated[int, typer.Option(help="Port to listen on.", min=1, max=65535)] = 8050,
    only_load: Annotated[bool, typer.Option("--only-load", help="Load the sample and stop.")] = False,
) -> None:
    """Load an invented plant's fortnight and show it in a browser."""
    from monitor.figures import figure

    if not SAMPLE.is_dir():
        raise RequestError("demo", f"no folder {SAMPLE.name}", "the sample plant", "run this from a full checkout")
    with open_current(ledger, create=True) as book:
        load_and_report([SAMPLE], book, now_us=max(time.time_ns() // 1_000, SAMPLE_MADE_US))
        table = figure(book, "shifts")
    write(table.tail(12), Format.TABLE, None)
    if not only_load:
        _show(ledger, "127.0.0.1", port)
