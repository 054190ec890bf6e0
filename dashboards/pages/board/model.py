"""The board worked out for a view: which shift, one row a press, and the sentence that sums it up."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import pandas as pd

from dashboards.holds.words import at_press
from dashboards.ledger.floor_queries import FloorSigns
from dashboards.ledger.records import Record, Records, records
from dashboards.ledger.version import LedgerVersion
from dashboards.pages.board.due_numbers import order_number, sharpen_number
from dashboards.pages.board.needs import BoardAlarm, Need, alarms_shown, needs, open_stop
from dashboards.pages.board.press_rows import PressStatus, numbers
from dashboards.pages.board.shift_figures import ShiftFigures
from dashboards.pages.board.stop_reasons import ReasonTime, reason_times, unseen_time
from dashboards.parts.contradictions import Mark, mark
from dashboards.parts.numbers import Number
from dashboards.parts.ribbon import (
    Axis,
    Hour,
    Span,
    callouts,
    hour_track,
    press_track,
    reject_track,
    strip_track,
)
from dashboards.parts.shift_shown import before_and_after, newest_of, shift_shown, shifts_on
from dashboards.parts.strip_left import strip_left, strip_number
from dashboards.parts.totals import without_reason
from dashboards.request.formats import clock, day, known, moment, text
from dashboards.request.locale import key, say
from dashboards.request.url import View
from shared.calendar import Calendar, ShiftWindow
from shared.durations import HOUR_US

_TOLD_ONE_BY_ONE = 4

_STANDING = key("Standing: {presses}.")
_SILENT = key("Counter silent: {presses}.")
_NO_SHIFT = key("No shift: {presses}.")


@dataclass(frozen=True)
class PressRow:
    """Everything the board shows of one press.

    `seen` is its newest reading as ISO text for the browser, `open_stop` what is picked by tapping its state while it
    stands, `needs` the stops to be explained that lasted some time, `bare` how many there are in all, `page` the view
    of the press in this shift, `held` the strip under hold that lies on it.  `contradicted` is the mark for rows that
    cannot all be true.
    """

    press_id: str
    name: str
    die_id: str
    die_name: str
    part_no: str
    shift: str
    state: PressStatus
    now: float
    words: tuple[Span, ...] = ()
    track: tuple[Span, ...] = ()
    strip: tuple[Span, ...] = ()
    hours: tuple[Hour, ...] = ()
    why: tuple[ReasonTime, ...] = ()
    numbers: tuple[Number, ...] = ()
    rejects: tuple[Span, ...] = ()
    seen: str = ""
    open_stop: str = ""
    needs: tuple[Need, ...] = ()
    bare: int = 0
    page: str = ""
    held: str = ""
    contradicted: Mark | None = None


@dataclass(frozen=True)
class NewestReading:
    """When a counter was last read: ISO text for the browser, the same in words, and its clock time."""

    at: str = ""
    words: str = ""
    clock: str = ""


@dataclass(frozen=True)
class Board:
    """The board: `live` follows the newest reading; `lack` says what to do where there is nothing to show.

    `alarms` are those of the watch on scrap, `zone` the plant's time zone; `figures_view` is the one whose figures
    can be downloaded.
    """

    title: str = ""
    newest: NewestReading = NewestReading()
    live: bool = True
    summary: tuple[str, ...] = ()
    rows: tuple[PressRow, ...] = ()
    earlier: View | None = None
    later: View | None = None
    lack: str = ""
    alarms: tuple[BoardAlarm, ...] = ()
    zone: str = ""
    figures_view: View | None = None


def load_board(reading: LedgerVersion, view: View) -> Board:
    """The board of a view; a ledger without plant, shifts or readings gives the sentence that says so."""
    calendar, states = reading.calendar(), reading.press_states()
    if states.empty:
        return Board(
            lack=say("Nothing is loaded yet. Load the plant's files: strokeledger load FOLDER --ledger LEDGER")
        )
    if calendar is None:
        return Board(lack=say("The plant's shifts are not known yet. Load a plant.toml with a [[shift]] for each."))
    newest_us = newest_of(states)
    if not newest_us:
        return Board(
            lack=say("No counter has been read yet. Load strokes files: strokeledger load FOLDER --ledger LEDGER")
        )
    if view.press:
        states = states[states["press_id"] == view.press]
        if states.empty:
            newest = _newest(newest_us, calendar)
            return Board(newest=newest, lack=say("There is no press “{press}” in the plant book.", press=view.press))
    shown = {press_id: shift_shown(calendar, press_id, newest_us, view) for press_id in states["press_id"]}
    windows = {press_id: window for press_id, window in shown.items() if window}
    if not windows:
        return _no_shift(calendar, newest_us, view)
    return _filled(reading, view, calendar=calendar, states=states, newest_us=newest_us, windows=windows)


def _filled(
    reading: LedgerVersion,
    view: View,
    calendar: Calendar,
    states: pd.DataFrame,
    newest_us: int,
    windows: dict[str, ShiftWindow],
) -> Board:
    live = not (view.date or view.shift)
    dates = [window.shift_date for window in windows.values()]
    # Whole shift dates: a night shift stays one, and one that starts off the hour loses nothing.
    start, end = min(dates).isoformat(), "" if live else (max(dates) + dt.timedelta(days=1)).isoformat()
    wanted = ("shifts", "hours", "stops", "coils", "scrap")
    shift = ShiftFigures(
        reading,
        calendar,
        newest_us,
        live,
        names={table: reading.names(table) for table in ("reasons", "dies", "causes")},
        tables={
            **reading.figures(wanted, from_=start, to=end, press=view.press),
            "rejects": reading.floor.rejects(start, end, view.press),
            "unresolved": reading.floor.unresolved(start, end, view.press),
        },
        orders=reading.floor.orders() if live else {},
        signs=reading.floor.signs() if live else FloorSigns(),
        contradicting=reading.contradictions(start, end, view.press),
    )
    main = _commonest(windows.values())
    press_id = next(press_id for press_id, window in windows.items() if window == main)
    earlier, later = before_and_after(calendar, press_id, main, newest_us, view)
    figures_view = View(since=main.shift_date, until=main.shift_date, shift=main.shift, press=view.press)
    zone = calendar.plant.timezone
    newest = _newest(newest_us, calendar)
    board = Board(_title(main), newest, live, earlier=earlier, later=later, zone=zone, figures_view=figures_view)
    shown = [shift.of("shifts", press_id, window) for press_id, window in windows.items()]
    if not live and not any(shown):
        lack = say("No press has a reading in the {shift}. Go to another shift, or load its files.", shift=_title(main))
        return replace(board, lack=lack)
    rows = tuple(_row(shift, row, windows[text(row["press_id"])], main) for row in _shown(states, windows))
    summary = (*(_summary(rows) if live else ()), *_without(states, windows))
    return replace(
        board, rows=rows, summary=summary, alarms=alarms_shown(shift.signs.alarms, windows, shift.names["causes"])
    )


def _row(shift: ShiftFigures, state: Mapping[str, object], window: ShiftWindow, main: ShiftWindow) -> PressRow:
    press_id = text(state["press_id"])
    stops, hours, coils, shifts, scrap = (
        shift.of(name, press_id, window) for name in ("stops", "hours", "coils", "shifts", "scrap")
    )
    seen_us = int(state["last_reading_us"]) if known(state["last_reading_us"]) else None  # type: ignore[call-overload]
    axis = Axis(window.start_us, window.end_us, window.start_us if seen_us is None else seen_us, shift.newest_us)
    hours = [row for row in hours if axis.start_us - HOUR_US < row["hour_start"] < axis.end_us]
    left = strip_left(coils, hours) if shift.live else None
    out_us = axis.now + left.end.minutes * 60e6 if left and left.end else None
    unseen = shift.of("unresolved", press_id, window)
    track = press_track(
        axis, window, stops=stops, hours=hours, calendar=shift.calendar, names=shift.names["reasons"], unseen=unseen
    )
    die_id = text(state["die_id"]) if shift.live else _named(shifts, "die_id")
    return PressRow(
        press_id,
        text(state["name"]),
        die_id=die_id,
        die_name=shift.names["dies"].get(die_id, ""),
        part_no=text(state["part_no"]) if shift.live else _named(shifts, "part_no"),
        shift="" if window == main else _title(window),
        state=shift.state(state, hours),
        now=axis.place(axis.now),
        words=tuple(callouts(track, axis)),
        track=tuple(track),
        strip=tuple(strip_track(axis, coils, shift.calendar, out_us)),
        hours=tuple(hour_track(axis, hours, shift.calendar)),
        why=(*reason_times(stops, shift.names["reasons"]), *unseen_time(shifts, track)),
        numbers=(
            *numbers(shifts, scrap, shift.rated_per_hour(press_id, shifts, window), shift.orders.get(press_id)),
            *([strip_number(left), *_ahead(shift, press_id, die_id)] if shift.live else []),
        ),
        rejects=tuple(reject_track(axis, shift.of("rejects", press_id, window), shift.calendar)),
        seen="" if seen_us is None else shift.calendar.local_time(seen_us).isoformat(),
        open_stop=open_stop(stops) if shift.live else "",
        needs=needs(stops, shift.calendar),
        bare=without_reason(stops),
        page=f"/shift{View(press=press_id, date=window.shift_date, shift=window.shift).search}",
        held=at_press(shift.reading.held_at_presses(), press_id) if shift.live else "",
        contradicted=mark(shift.doubted(press_id, window), shift.calendar, View(press=press_id)),
    )


def _ahead(shift: ShiftFigures, press_id: str, die_id: str) -> list[Number]:
    order = order_number(shift.orders.get(press_id), shift.calendar, shift.newest_us)
    return [order, sharpen_number(shift.signs.to_sharpen.get(die_id))]


def _named(rows: Records, name: str) -> str:
    return ", ".join(sorted({row[name] for row in rows} - {""}))


def _summary(rows: Sequence[PressRow]) -> tuple[str, ...]:
    """The state of the plant in sentences: how many run, then those that stand or are silent."""
    if all(row.state.look == "off" for row in rows):
        return (say("No shift is planned now; this is the last one."),)
    running = sum(row.state.look == "run" for row in rows)
    count_first = [say("{n} of {all} presses run.", n=running, all=len(rows))] if len(rows) > 1 else []
    looks = ((_STANDING, ("stand", "plan")), (_SILENT, ("silent",)), (_NO_SHIFT, ("off",)))
    groups = [(word, [row for row in rows if row.state.look in look]) for word, look in looks]
    if sum(len(group) for _, group in groups) > _TOLD_ONE_BY_ONE:
        told = [say(word, presses=", ".join(row.press_id for row in group)) for word, group in groups if group]
    else:
        told = [_told(row) for _, group in groups for row in group]
    return (*count_first, *told)


def _without(states: pd.DataFrame, windows: Mapping[str, ShiftWindow]) -> tuple[str, ...]:
    left = [press_id for press_id in states["press_id"] if press_id not in windows]
    return (say("Without this shift: {presses}.", presses=", ".join(left)),) if left else ()


def _told(row: PressRow) -> str:
    state = row.state
    if state.look == "silent":
        return say("Counter of {press} silent for {lasted}.", press=row.press_id, lasted=state.lasted)
    if state.look == "off":
        return say("{press} has no shift.", press=row.press_id)
    return say("{press} stands {lasted}: {reason}.", press=row.press_id, lasted=state.lasted, reason=state.detail)


def _newest(us: int, calendar: Calendar) -> NewestReading:
    return NewestReading(calendar.local_time(us).isoformat(), moment(us, calendar), clock(us, calendar))


def _no_shift(calendar: Calendar, newest_us: int, view: View) -> Board:
    if not view.date:
        lack = say("The plant has no shift called “{shift}”.", shift=view.shift) if view.shift else ""
        lack = lack or say("No shift is planned near now.")
        mend = say("Look at plant.toml, or pick a date.")
        return Board(newest=_newest(newest_us, calendar), lack=f"{lack} {mend}")
    names = [window.shift for window in shifts_on(calendar, "", view.date)]
    planned = say("Planned on that day: {shifts}.", shifts=", ".join(names)) if names else ""
    planned = planned or say("Nothing is planned on that day.")
    lack = say("There is no shift on {date}.", date=day(view.date))
    if view.shift:
        lack = say("There is no {shift} shift on {date}.", shift=view.shift, date=day(view.date))
    return Board(newest=_newest(newest_us, calendar), live=False, lack=f"{lack} {planned}")


def _commonest(windows: Iterable[ShiftWindow]) -> ShiftWindow:
    return Counter(windows).most_common(1)[0][0]


def _title(window: ShiftWindow) -> str:
    named = {"shift": window.shift, "date": day(window.shift_date)}
    title = key("{shift} shift, {date}, plant closed") if window.closed else key("{shift} shift, {date}")
    return say(title, **named)


def _shown(states: pd.DataFrame, windows: Mapping[str, ShiftWindow]) -> list[Record]:
    return records(states[states["press_id"].isin(list(windows))].sort_values("press_id"))
