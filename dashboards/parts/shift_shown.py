"""Which shift a page shows: the one of its address, else the one that runs, and those before and after it."""

from __future__ import annotations

import datetime as dt

import pandas as pd

from dashboards.ledger.version import LedgerVersion
from dashboards.request.url import View
from shared.calendar import Calendar, ShiftWindow
from shared.durations import DAY_US

_NEAR_US = 8 * DAY_US


def newest_of(states: pd.DataFrame) -> int:
    """The newest counter reading of some presses (rows of `press_states`) [us], 0 where there is none."""
    return int(states["last_reading_us"].fillna(0).max()) if len(states) else 0


def shift_shown(calendar: Calendar, press_id: str, newest_us: int, view: View) -> ShiftWindow | None:
    """The shift of a press that the view names, else the one running at the newest reading or the last before.

    A shift that begins with the newest reading has nothing to show yet: the one before it stays.
    """
    if view.date:
        found = [window for window in shifts_on(calendar, press_id, view.date) if view.shift in ("", window.shift)]
        return found[0] if found else None
    week = calendar.shifts(press_id, newest_us - _NEAR_US, newest_us)
    return next((window for window in reversed(week) if view.shift in ("", window.shift)), None)


def shifts_on(calendar: Calendar, press_id: str, date: dt.date) -> list[ShiftWindow]:
    """The shifts of a date in order, whatever day of the clock they end on."""
    start = calendar.day_start_us(date)
    around = calendar.shifts(press_id, start - DAY_US, start + 2 * DAY_US)
    return [window for window in around if window.shift_date == date]


def before_and_after(
    calendar: Calendar, press_id: str, window: ShiftWindow, newest_us: int, view: View
) -> tuple[View | None, View | None]:
    """The view of the shift before a shift and of the one after it, None where there is none yet."""
    around = calendar.shifts(press_id, window.start_us - _NEAR_US, min(window.end_us + _NEAR_US, newest_us + 1))
    before = [other for other in around if other.start_us < window.start_us][-1:]
    after = [other for other in around if other.start_us > window.start_us][:1]
    earlier, later = (
        next((view.but(date=other.shift_date, shift=other.shift) for other in side), None) for side in (before, after)
    )
    return earlier, later


def shifts_around(reading: LedgerVersion, view: View) -> tuple[View | None, View | None]:
    """The views of the shifts before and after the one that a view shows, None where there is none yet."""
    calendar, states = reading.calendar(), reading.press_states()
    press = view.press or next(iter(states["press_id"]), "")
    if calendar is None or not (states["press_id"] == press).any():
        return None, None
    newest = newest_of(states)
    window = shift_shown(calendar, press, newest, view)
    return before_and_after(calendar, press, window, newest, view) if window else (None, None)
