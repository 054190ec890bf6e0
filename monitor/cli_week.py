"""The command `strokeledger week`: a week's report for one customer or for all."""

from __future__ import annotations

import time
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

from monitor.book import Book, plant_of
from monitor.ledger import Ledger
from monitor.report import (
    House,
    Output,
    PlantWeek,
    Standing,
    add,
    as_sent,
    due,
    folder_of,
    gather,
    house_of,
    last_sent,
    last_week,
    make,
    read,
    view_of,
    write,
)
from shared.errors import RequestError

app = typer.Typer()

LedgerFolder = Annotated[Path, typer.Option("--ledger", help="Folder of the ledger.", show_default=False)]

_told = Console(stderr=True, highlight=False, soft_wrap=True)


@app.command("week")
def week_command(
    ledger: LedgerFolder,
    out: Annotated[Path, typer.Option(help="Folder to write to: a folder a customer, in it a folder a week.")],
    week: Annotated[str | None, typer.Option(help="ISO week such as 2026-W45; the last whole one if left out.")] = None,
    customer: Annotated[str | None, typer.Option(help="Only this customer.")] = None,
    due: Annotated[
        bool, typer.Option("--due", help="Only customers whose day in plant.toml has come and who were sent nothing.")
    ] = False,
    formats: Annotated[str, typer.Option("--format", help="Some of pdf,xlsx,html,data.")] = "pdf,xlsx,html,data",
    sent: Annotated[bool, typer.Option("--sent", help="Note these reports as sent.")] = False,
    by: Annotated[str, typer.Option(help="Who sends them; the user of this computer if left out.")] = "",
    version: Annotated[int | None, typer.Option(help="Version of the ledger; the newest if left out.")] = None,
) -> None:
    """Make the weekly quality report of a customer, or of every customer."""
    outputs = _outputs(formats)
    with Ledger.open(ledger) as opened:
        snapshot = opened.snapshot(version)
        book = Book.read(snapshot, plant_of(snapshot.plant_text()))
        now_us = time.time_ns() // 1_000
        found = gather(snapshot, week or last_week(book, now_us), customer, book)
        chosen = _chosen(found, customer)
        if due:
            chosen = _due(found, chosen, ledger, now_us)
        _make_all(
            found, chosen, house_of(found.plant.report, ledger), outputs, out, ledger, _sender(by) if sent else ""
        )


def _outputs(formats: str) -> set[Output]:
    names = [name.strip() for name in formats.split(",") if name.strip()]
    known = [output.value for output in Output]
    wrong = [name for name in names if name not in known]
    if wrong or not names:
        raise RequestError("--format", repr(formats), f"some of {','.join(known)}", "write --format pdf,xlsx")
    return {Output(name) for name in names}


def _sender(by: str) -> str:
    from monitor.entering import user  # What enters rows brings all that loads along.

    return by.strip() or user()


def _chosen(found: PlantWeek, customer: str | None) -> list[str]:
    if customer is not None and customer not in found.customers:
        seen = ", ".join(found.customers) or "none yet"
        raise RequestError("--customer", repr(customer), f"a customer of the plant ({seen})", "write the name in full")
    return found.customers if customer is None else [customer]


def _due(found: PlantWeek, customers: Sequence[str], root: Path, now_us: int) -> list[str]:
    today, week = found.book.calendar.plant_day(now_us), found.range
    rows = due(found.plant.report, customers, week.week, week.to_date, today, read(root))
    return [row.customer for row in rows if row.standing is Standing.DUE]


def _make_all(
    found: PlantWeek, customers: Sequence[str], house: House, outputs: set[Output], out: Path, root: Path, sent: str
) -> None:
    """Make the reports and, where somebody sends them, note it; those already written stay if a later one fails."""
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=_told, transient=True) as progress:
        task = progress.add_task("Making reports", total=len(customers))
        for name in customers:
            progress.update(task, description=f"Making {escape(name[:40])}")
            folder = out / folder_of(name, found.customers) / found.range.week
            _make_one(found, name, house, outputs, folder, root, sent)
            progress.advance(task)
    _told.print(f"{len(customers)} reports of week {found.range.week} from ledger version {found.version}")


def _make_one(
    found: PlantWeek, customer: str, house: House, outputs: set[Output], folder: Path, root: Path, sent: str
) -> None:
    view = view_of(found, customer)
    files = make(view, house, outputs, last_sent(root, customer, view.week))
    write(files, folder)
    if sent:
        (now,) = found.book.calendar.local_iso([time.time_ns() // 1_000])
        add(root, as_sent(view, files, now, sent))
    _told.print(escape(f"{customer}: {folder}"))
