"""The commands `strokeledger enter …`: reasons, first-offs, die service, notes; what was entered, and undo."""

from __future__ import annotations

import datetime as dt
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from monitor.cli.open import LedgerFolder, open_current
from monitor.cli.terminal import say
from monitor.enter import ENTERED
from monitor.export import Format, write
from shared.durations import FOREVER_US
from shared.errors import RequestError
from shared.fields import Kind
from shared.identifiers import as_identifier
from shared.tables import TABLES

if TYPE_CHECKING:
    import pandas as pd

    from monitor.enter.entry import Receipt
    from monitor.enter.floor import StandstillSpan
    from monitor.enter.history import HistoryEntry, Row
    from monitor.ledger import Ledger
    from shared.calendar import Calendar

app = typer.Typer(
    no_args_is_help=True, help="What the floor says: reasons of stops, first-offs, die service, notes; list and undo."
)

WorkName = Enum("WorkName", {n: n for n in TABLES["die_service"].field("work").choices}, type=str)  # type: ignore[misc]
TableName = Enum("TableName", {name: name for name in ENTERED}, type=str)  # type: ignore[misc]
PressId = Annotated[str, typer.Argument(metavar="PRESS", help="The press.", parser=as_identifier)]
At = Annotated[str, typer.Option("--at", help="When, such as 2026-11-02T14:05.", show_default=False)]
By = Annotated[str, typer.Option(help="Who does it; the user of this computer where left out.")]


@app.command("reason")
def reason_command(
    press: PressId,
    reason: Annotated[
        str, typer.Argument(metavar="REASON", help="Code of the reason, as in the reasons file.", parser=as_identifier)
    ],
    ledger: LedgerFolder,
    at: Annotated[str, typer.Option("--at", help="A moment of the stop: the reason holds for all of it.")] = "",
    from_: Annotated[str, typer.Option("--from", help="Or: from this moment on.")] = "",
    to: Annotated[str, typer.Option("--to", help="Up to this moment; while the press stands where left out.")] = "",
    by: By = "",
) -> None:
    """Enter why a press stood: for a whole stop with --at, for a stretch of it with --from and --to."""
    from monitor.enter.floor import give_reason
    from monitor.enter.holds import calendar_of

    if bool(at) == bool(from_):
        raise RequestError("reason", "--at and --from" if at else "no time", "one of --at and --from", "give one")
    with open_current(ledger) as book:
        _check_reason(book, reason)
        stretch = _stretch(book, press, at, from_, to)
        start, end = calendar_of(book).local_iso([stretch.from_us, stretch.to_us])
        receipt = give_reason(book, [stretch], reason, by=by)
    _say_entered(f"{press} from {start} {f'to {end}' if end else 'on'}: {reason}", receipt)


@app.command("first-off")
def first_off_command(press: PressId, ledger: LedgerFolder, at: At, by: By = "") -> None:
    """Enter that the first piece was found good, which ends setting."""
    from monitor.enter.floor import first_off
    from monitor.enter.holds import calendar_of
    from monitor.figures.scope import moment_us

    with open_current(ledger) as book:
        receipt = first_off(book, press, moment_us(calendar_of(book), "--at", at), by=by)
    _say_entered(f"first-off on {press} at {at}", receipt)


@app.command("service")
def service_command(
    die: Annotated[str, typer.Argument(metavar="DIE", help="The die.", parser=as_identifier)],
    ledger: LedgerFolder,
    at: At,
    work: Annotated[WorkName, typer.Option(help="What was done.")] = WorkName["sharpen"],
    station: Annotated[int | None, typer.Option(help="Only this station; all cutting ones where left out.")] = None,
    removed_mm: Annotated[float | None, typer.Option("--removed-mm", help="Ground off [mm].")] = None,
    note: Annotated[str, typer.Option(help="A remark.")] = "",
    by: By = "",
) -> None:
    """Enter work on a die, such as a station that was sharpened."""
    from monitor.enter.floor import Work, service
    from monitor.enter.holds import calendar_of
    from monitor.figures.scope import moment_us

    with open_current(ledger) as book:
        at_us = moment_us(calendar_of(book), "--at", at)
        receipt = service(
            book, Work(die, at_us, work=work.value, station=station, removed_mm=removed_mm, note=note), by=by
        )
    _say_entered(f"{work.value} of {die} at {at}", receipt)


@app.command("note")
def note_command(
    text: Annotated[str, typer.Argument(metavar="TEXT", help="What those who come after should know.")],
    ledger: LedgerFolder,
    date: Annotated[str, typer.Option(help="Date on which the shift starts.", show_default=False)],
    shift: Annotated[str, typer.Option(help="Name of the shift.", show_default=False)],
    press: Annotated[str, typer.Option(help="The press it is about; all of them where left out.")] = "",
    by: By = "",
) -> None:
    """Write a note on a shift; it stands on its hand-over."""
    from monitor.enter.floor import write_note
    from monitor.enter.holds import calendar_of

    with open_current(ledger) as book:
        start = _start_of(calendar_of(book), date, shift, press)
        receipt = write_note(book, start, shift, press, text, by=by)
    _say_entered(f"note on the {shift} shift of {start}", receipt)


@app.command("list")
def list_command(
    ledger: LedgerFolder,
    from_: Annotated[str | None, typer.Option("--from", help="About this moment or later.")] = None,
    to: Annotated[str | None, typer.Option("--to", help="About a moment before this one.")] = None,
    press: Annotated[str | None, typer.Option(help="Only what was entered about this press.")] = None,
    table: Annotated[TableName | None, typer.Option(help="Only rows of this table.")] = None,
    format_: Annotated[Format, typer.Option("--format", help="How to write it.")] = Format.TABLE,
    out: Annotated[Path | None, typer.Option(help="File to write to instead of the screen.")] = None,
) -> None:
    """List what was entered by hand, newest first: who, when, what, what stood there before, what took it back."""
    from monitor.enter.history import history
    from monitor.enter.holds import calendar_of
    from monitor.figures.scope import scope

    with open_current(ledger) as book:
        calendar = calendar_of(book)
        asked = scope(calendar, from_, to)
        low, high = (edge if edge is not None else end for edge, end in ((asked.from_us, 0), (asked.to_us, FOREVER_US)))
        told = history(book.snapshot(), [table.value] if table else ENTERED, low, high, press)
    write(_listed(told, calendar), format_, out)


@app.command("undo")
def undo_command(
    entry: Annotated[int, typer.Argument(metavar="ENTRY", help="Its number, as list shows it.")],
    ledger: LedgerFolder,
    by: By = "",
) -> None:
    """Take an entry back: what stood there before holds again; refused where somebody changed it since."""
    from monitor.enter.entry import undo

    with open_current(ledger) as book:
        receipt = undo(book, entry, by=by)
    _say_entered(f"entry {entry} taken back", receipt)


def _check_reason(book: Ledger, reason: str) -> None:
    known = sorted(set(book.snapshot().rows("reasons").column("reason").to_pylist()))
    if known and reason not in known:
        raise RequestError("reason", repr(reason), f"one of {', '.join(known)}", "write its code")


def _stretch(book: Ledger, press: str, at: str, from_: str, to: str) -> StandstillSpan:
    from monitor.enter.floor import StandstillSpan, stop_at
    from monitor.enter.holds import calendar_of
    from monitor.figures.scope import moment_us, scope

    calendar = calendar_of(book)
    if at:
        return stop_at(book, press, moment_us(calendar, "--at", at))
    asked = scope(calendar, from_, to)
    return StandstillSpan(press, moment_us(calendar, "--from", from_), asked.to_us)


def _start_of(calendar: Calendar, date: str, shift: str, press: str) -> dt.date:
    """Return the date on which a shift starts; raises RequestError where there is no such shift on it."""
    try:
        day = dt.date.fromisoformat(date)
    except ValueError:
        raise RequestError("--date", repr(date), "a date such as 2026-11-02", "write it so") from None
    start_us = calendar.day_start_us(day)
    after_us = calendar.day_start_us(day + dt.timedelta(days=1))
    names = [window.shift for window in calendar.shifts(press, start_us, after_us) if window.shift_date == day]
    if shift not in names:
        expected = f"one of {', '.join(names)}" if names else "a day with shifts"
        raise RequestError(f"--shift on {day}", repr(shift), expected, "write its name")
    return day


def _listed(told: list[HistoryEntry], calendar: Calendar) -> pd.DataFrame:
    import pandas as pd

    rows = [
        {
            "entry": one.entered.load_id,
            "entered_at": calendar.local_iso([one.entered.at_us])[0],
            "by": one.entered.by,
            "table": one.entered.table,
            "entered": "; ".join(_words(one.entered.table, change.after, calendar) for change in one.changes),
            "before": "; ".join(_words(one.entered.table, change.before, calendar) for change in one.changes),
            "undoes": one.entered.undoes or None,
            "undone_by": one.undone_by or None,
        }
        for one in told
    ]
    names = ["entry", "entered_at", "by", "table", "entered", "before", "undoes", "undone_by"]
    return pd.DataFrame(rows, columns=names).astype({"undoes": "Int64", "undone_by": "Int64"})


def _words(table: str, row: Row | None, calendar: Calendar) -> str:
    """Return a row in words, its times in plant time; what is empty, and when it was entered, is left out."""
    told = []
    for name, value in (row or {}).items():
        if name != "recorded_at" and value not in (None, ""):
            is_time = TABLES[table].field(name).kind is Kind.TIME
            told.append(f"{name} {calendar.local_iso([value])[0] if is_time else value}")
    return ", ".join(told)


def _say_entered(what: str, receipt: Receipt) -> None:
    undoing = f"take it back with strokeledger enter undo {receipt.load_id}"
    say(f"{what}; entry {receipt.load_id}, {undoing}")
