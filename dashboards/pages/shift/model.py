"""One press in one shift: its stops to be explained, what can be entered, and what was."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from dashboards.ledger.picks import Pick, pack
from dashboards.ledger.records import Record, records
from dashboards.ledger.version import LedgerVersion
from dashboards.parts.contradictions import Mark, mark
from dashboards.parts.ribbon import PLAN_REASONS, pick_of, reason_name, unseen_words
from dashboards.parts.shift_shown import before_and_after, newest_of, shift_shown
from dashboards.parts.totals import without_reason
from dashboards.reason_sheet.view import span
from dashboards.request.formats import clock, day, duration, text
from dashboards.request.locale import say
from dashboards.request.url import View
from monitor.enter.history import HistoryEntry, RowChange
from monitor.figures.contradictions import Contradiction
from monitor.reckoning.press.stops import NO_REASON
from shared.calendar import Calendar, ShiftWindow
from shared.durations import FOREVER_US

ENTERED = ("stops", "die_changes")
"""Tables whose entries about the press stand on its page, by when it happened; work on a die follows the die."""

#: Digits alone do, too: the large keys of a phone have no colon.
_CLOCK = re.compile(r"([01]?\d|2[0-3])[:.]?([0-5]\d)", re.ASCII)


@dataclass(frozen=True)
class Stop:
    """A stop of the shift: its times, reason and kind; `bare` where nobody has explained it."""

    pick: Pick
    words: str
    lasted: str
    reason: str
    kind: str
    bare: bool

    @property
    def packed(self) -> str:
        """What is picked by tapping it."""
        return pack([self.pick])


@dataclass(frozen=True)
class HistoryLine:
    """One entry of the history: who and when, what it says now and what stood there before, and whether it stands."""

    load_id: int
    head: str
    what: tuple[str, ...]
    undone: bool


@dataclass(frozen=True)
class ShiftView:
    """What the page of a press shows; `lack` says what to do where there is nothing to show.

    `bare` counts the stops without a reason, `unseen` tells in words of the time that nobody saw.
    """

    view: View
    title: str = ""
    die_id: str = ""
    stations: tuple[int, ...] = ()
    stops: tuple[Stop, ...] = ()
    bare: int = 0
    unseen: tuple[str, ...] = ()
    history: tuple[HistoryLine, ...] = ()
    earlier: View | None = None
    later: View | None = None
    clock: str = ""
    lack: str = ""
    contradicted: Mark | None = None


def load_shift(reading: LedgerVersion, view: View) -> ShiftView:
    """The page of a press and shift of a view; by default the first press and the shift of its newest reading."""
    calendar, states = reading.calendar(), reading.press_states()
    press = view.press or next(iter(states["press_id"]), "")
    state = states[states["press_id"] == press]
    if calendar is None or state.empty:
        return ShiftView(view, lack=say("There is no press “{press}” in the plant book.", press=press))
    newest = newest_of(states)
    window = shift_shown(calendar, press, newest, view)
    if window is None:
        return ShiftView(view, lack=say("There is no such shift on that day."))
    view = view.but(press=press, date=window.shift_date, shift=window.shift)
    rows = reading.figure(
        "stops", from_=str(window.shift_date), to=str(window.shift_date + dt.timedelta(days=1)), press=press
    )
    rows = rows[rows["shift"] == window.shift]
    die_id = _die(reading, rows, state)
    earlier, later = before_and_after(calendar, press, window, newest, view)
    names = reading.names("reasons", window.shift_date)
    told = _history(reading, press, window)
    return ShiftView(
        view,
        title=f"{press} · {say('{shift} shift, {date}', shift=window.shift, date=day(window.shift_date))}",
        die_id=die_id,
        stops=_stops(rows, names, calendar),
        bare=without_reason(records(rows)),
        unseen=unseen_words(window, _unseen(reading, press, window), calendar),
        history=tuple(line_of(one, calendar, names) for one in told),
        earlier=earlier,
        later=later,
        clock=clock(min(newest, window.end_us), calendar),
        contradicted=mark(_doubted(reading, press, window), calendar, View(press=press)),
    )


def _doubted(reading: LedgerVersion, press: str, window: ShiftWindow) -> list[Contradiction]:
    """Rows about the press that cannot all be true: noted in the shift, or beside its figures."""
    return reading.contradictions(window.start_us, window.end_us, press)


def _unseen(reading: LedgerVersion, press: str, window: ShiftWindow) -> list[Record]:
    date = window.shift_date
    return records(reading.floor.unresolved(str(date), str(date + dt.timedelta(days=1)), press))


def _history(reading: LedgerVersion, press: str, window: ShiftWindow) -> list[HistoryEntry]:
    """What was entered about the press in the shift, newest first; a note belongs to the shift it is about."""
    told = reading.floor.history(ENTERED, window.start_us, window.end_us, press)
    notes = reading.floor.history(("notes",), window.start_us, FOREVER_US, press)
    about = (str(window.shift_date), window.shift)
    for note in notes:
        rows = [change.after or change.before or {} for change in note.changes]
        if any((str(row.get("shift_date")), row.get("shift")) == about for row in rows):
            told.append(note)
    return sorted(told, key=lambda one: -one.entered.load_id)


def moment_us(reading: LedgerVersion, view: View, text_: str) -> int | None:
    """The moment of a clock time ("13:05", "13.05", "1305") in the shift of a view, also past midnight; else None."""
    calendar = reading.calendar()
    if calendar is None or view.date is None:
        return None
    window = shift_shown(calendar, view.press, 0, view)
    written = _CLOCK.fullmatch(text_)
    if window is None or written is None:
        return None
    wall = int(written[1]) * 60 + int(written[2])
    on_day = [calendar.wall_us(window.shift_date + dt.timedelta(days=more), wall) for more in (0, 1)]
    return next((at_us for at_us in on_day if window.start_us <= at_us <= window.end_us), None)


def line_of(told: HistoryEntry, calendar: Calendar, names: Mapping[str, str]) -> HistoryLine:
    """An entry in words."""
    head = f"{clock(told.entered.at_us, calendar)} {told.entered.by}"
    if told.entered.undoes:
        head = say("{head}, taken back", head=head)
    what = tuple(_changed(change, calendar, names) for change in told.changes)
    return HistoryLine(told.entered.load_id, head, what, bool(told.undone_by))


def _changed(change: RowChange, calendar: Calendar, names: Mapping[str, str]) -> str:
    after, before = (_row_words(row, calendar, names) for row in (change.after, change.before))
    if not before:
        return after
    return say("{after}; before: {before}", after=after or say("nothing"), before=before)


def _row_words(row: Mapping[str, object] | None, calendar: Calendar, names: Mapping[str, str]) -> str:
    if row is None:
        return ""
    if "note" in row and "shift_date" in row:
        return say("note “{note}”", note=text(row["note"]))
    if "start_at" in row:
        start_us, end_us = (_us(row.get(name)) for name in ("start_at", "end_at"))
        stretch = span(Pick("", start_us or 0, end_us), calendar)
        return f"{stretch} {reason_name(text(row['reason']), names)}"
    what = text(row.get("event") or row.get("work"))
    what = say("first-off") if what == "first_off" else what
    return f"{clock(row.get('time'), calendar)} {what} {text(row.get('die_id'))}".strip()


def _us(value: object) -> int | None:
    return int(value) if isinstance(value, int) else None


def _stops(rows: pd.DataFrame, names: Mapping[str, str], calendar: Calendar) -> tuple[Stop, ...]:
    """Stops of the shift in order of time, what the plan itself sets aside left out."""
    found = []
    for row in records(rows[~rows["reason"].isin(PLAN_REASONS)].sort_values("start_at")):
        pick = pick_of(row)
        start = clock(pick.start_us, calendar)
        words = say("since {time}", time=start) if pick.end_us is None else f"{start}–{clock(pick.end_us, calendar)}"
        reason, bare = reason_name(text(row["reason"]), names), row["reason"] == NO_REASON
        found.append(
            Stop(pick, words, lasted=duration(row["seconds"]), reason=reason, kind=text(row["kind"]), bare=bare)
        )
    return tuple(found)


def _die(reading: LedgerVersion, rows: pd.DataFrame, state: pd.DataFrame) -> str:
    mounted = text(state["die_id"].iloc[0])
    ran = [die for die in rows["die_id"] if die]
    return ran[-1] if ran else mounted
