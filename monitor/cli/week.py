"""The command `strokeledger week`: a week's report for one customer or for all."""

from __future__ import annotations

import dataclasses
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

from monitor.cli.open import LedgerFolder, open_current
from monitor.cli.terminal import ERR, label, say
from shared.errors import RequestError

if TYPE_CHECKING:
    from monitor.report import Branding, Due, Output, PlantWeek, SentReport

app = typer.Typer()

#: How long to wait for another program that makes what is due [s]; thirty customers take half a minute.
WAIT_S = 120.0


@app.command("week")
def week_command(
    ledger: LedgerFolder,
    out: Annotated[Path, typer.Option(help="Folder to write to: a folder a customer, in it a folder a week.")],
    week: Annotated[str | None, typer.Option(help="ISO week such as 2026-W45; the last whole one if left out.")] = None,
    customer: Annotated[str | None, typer.Option(help="Only this customer.")] = None,
    due: Annotated[
        bool, typer.Option("--due", help="Only what is due by plant.toml, and was neither made nor sent.")
    ] = False,
    formats: Annotated[str, typer.Option("--format", help="Some of pdf,xlsx,html,data.")] = "pdf,xlsx,html,data",
    sent: Annotated[bool, typer.Option("--sent", help="Note these reports as sent.")] = False,
    by: Annotated[str, typer.Option(help="Who sends them; the user of this computer if left out.")] = "",
    version: Annotated[int | None, typer.Option(help="Version of the ledger; the newest if left out.")] = None,
) -> None:
    """Make the weekly quality report of a customer, or of every customer."""
    from monitor.plant.book import Book, plant_of
    from monitor.report import branding_of, gather, last_week
    from monitor.schedule import alone, reports_of_week

    outputs = _outputs(formats)
    with open_current(ledger) as opened:
        snapshot = opened.snapshot(version)
        book = Book.read(snapshot, plant_of(snapshot.plant_text()))
        now_us = _now_us()
        found = gather(snapshot, last_week(book, now_us) if week is None else week, customer, book)
        order = _Order(
            found,
            branding_of(found.plant.report, ledger),
            outputs=outputs,
            out=out,
            root=ledger,
            by=_sender(by) if sent else "",
        )
        chosen = _chosen(found, customer)
        if due:
            with alone(ledger, WAIT_S):
                _make_due(order, reports_of_week(ledger, book, found.range.week, chosen, now_us))
        else:
            _make_all(order, chosen)


@dataclass(frozen=True)
class _Order:
    """What is to be made of a week, where to, of which ledger, and who sends it: "" = nobody yet."""

    found: PlantWeek
    branding: Branding
    outputs: set[Output]
    out: Path
    root: Path
    by: str


def _outputs(formats: str) -> set[Output]:
    from monitor.report import Output

    names = [name.strip() for name in formats.split(",") if name.strip()]
    known = [output.value for output in Output]
    wrong = [name for name in names if name not in known]
    if wrong or not names:
        raise RequestError("--format", repr(formats), f"some of {','.join(known)}", "write --format pdf,xlsx")
    return {Output(name) for name in names}


def _sender(by: str) -> str:
    from monitor.enter.entry import user

    return by.strip() or user()


def _chosen(found: PlantWeek, customer: str | None) -> list[str]:
    if customer is not None and customer not in found.customers:
        seen = ", ".join(found.customers) or "none yet"
        raise RequestError("--customer", repr(customer), f"a customer of the plant ({seen})", "write the name in full")
    return found.customers if customer is None else [customer]


def _make_due(order: _Order, rows: Sequence[Due]) -> None:
    """Make what is due; of a week that no reading reaches into nobody is told anything by itself."""
    from monitor.report import ReportStatus

    _print_made(order, [row for row in rows if row.standing is ReportStatus.MADE])
    waiting = [row.customer for row in rows if row.standing is ReportStatus.DUE]
    if waiting and not order.found.read:
        week = order.found.range.week
        seen, expected = f"no counter reading of week {week} or a later one", f"the readings of week {week}"
        raise RequestError("--due", seen, expected, "load them, or leave --due out to make the reports all the same")
    _make_all(order, waiting, due=True)


def _print_made(order: _Order, made: Sequence[Due]) -> None:
    """Say which reports were made already, and note them as sent where somebody sends them."""
    for row in made:
        if row.made is None:
            continue
        say(f"{row.customer}: was due and made already, {row.made.sent_at}", to=ERR)
        if order.by:
            _note_sent(order, row.made)


def _make_all(order: _Order, customers: Sequence[str], due: bool = False) -> None:
    """Make the reports and, where somebody sends them, note it; those already written stay if a later one fails."""
    from monitor.schedule import make_files, note_made

    found = order.found
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=ERR, transient=True) as progress:
        task = progress.add_task("Making reports", total=len(customers))
        for name in customers:
            progress.update(task, description=f"Making {label(name)}")
            folder, entry = make_files(
                found, name, branding=order.branding, outputs=order.outputs, out=order.out, root=order.root
            )
            if due:
                note_made(order.root, found, entry, _now_us())
            if order.by:
                _note_sent(order, entry)
            say(f"{name}: {folder}", to=ERR)
            progress.advance(task)
    if customers and not found.read:
        say(f"no counter reading of week {found.range.week} or a later one has been loaded, as the reports say", to=ERR)
    made = "1 report" if len(customers) == 1 else f"{len(customers)} reports"
    say(f"{made} of week {found.range.week} from ledger version {found.version}", to=ERR)


def _note_sent(order: _Order, entry: SentReport) -> None:
    from monitor.report import add

    (now,) = order.found.book.calendar.local_iso([_now_us()])
    add(order.root, dataclasses.replace(entry, sent_at=now, by=order.by))


def _now_us() -> int:
    return time.time_ns() // 1_000
