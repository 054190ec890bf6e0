"""The command `strokeledger hand-over`: what a shift hands over to the next, on paper."""

from __future__ import annotations

import datetime as dt
import time
from enum import Enum
from pathlib import Path
from typing import Annotated

import typer

from monitor.cli.open import LedgerFolder, open_current
from monitor.cli.terminal import say
from monitor.write.whole_files import write_file
from shared.errors import RequestError
from shared.languages import LANGUAGES

app = typer.Typer()

Language = Enum("Language", {name: name for name in LANGUAGES}, type=str)  # type: ignore[misc]


@app.command("hand-over")
def hand_over_command(
    ledger: LedgerFolder,
    out: Annotated[Path, typer.Option(help="PDF to write.", show_default=False)],
    shift: Annotated[str, typer.Option(help="Name of the shift; by default that of the newest reading.")] = "",
    date: Annotated[str, typer.Option(help="Date on which it starts, such as 2026-11-02.")] = "",
    press: Annotated[str, typer.Option(help="Only this press.")] = "",
    language: Annotated[Language, typer.Option(help="Language of the page.")] = Language["en"],
) -> None:
    """Write the hand-over of a shift: output, stops, scrap, coils, dies due, alarms, holds and notes on one page."""
    from monitor.handover import hand_over
    from monitor.handover.paper import hand_over_pdf
    from monitor.handover.sheet import sheet
    from monitor.plant.book import plant_of
    from shared.calendar import Calendar
    from shared.words import words

    with open_current(ledger) as book:
        snapshot = book.snapshot()
        told = hand_over(snapshot, _date(date), shift, press)
        calendar = Calendar(plant_of(snapshot.plant_text()))
    if told.lack:
        raise RequestError("hand-over", told.lack.rstrip("."), "a shift that was", "name --date, --shift and --press")
    chosen = words(language.value)
    write_file(out, hand_over_pdf(sheet(told, chosen, calendar), told.plant, chosen, int(time.time())))
    say(f"{told.shift} shift of {told.date} written to {out}")


def _date(text: str) -> dt.date | None:
    if not text:
        return None
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise RequestError("--date", repr(text), "a date such as 2026-11-02", "write it so") from None
