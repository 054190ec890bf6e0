"""One way to choose a range on every page: a shift, a day, a week or any dates; what is chosen stands in the address.

`choices` works them out, `range_nav` draws them as links to be put in the head of a page, `date_range` and
`shift_pick` are the fields for any dates and for one shift of each day.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from dash import dcc, html

from dashboards.elements import attributes
from dashboards.formats import us
from dashboards.manner import key, manner, say
from dashboards.page import Reading
from dashboards.url import View
from shared.calendar import Calendar, ShiftWindow
from shared.plant import WEEKDAYS

ALL_SHIFTS = key("all shifts")

_DAY = dt.timedelta(days=1)
_AROUND_US = 3 * 24 * 3_600_000_000


@dataclass(frozen=True)
class Choice:
    """A range to choose: its word, the view it leads to, and whether it is the one shown."""

    word: str
    view: View
    here: bool = False


def newest_us(reading: Reading) -> int:
    """Newest counter reading of the plant in microseconds, 0 where there is none."""
    return max((us(iso) or 0 for iso in reading.press_states()["last_reading_at"]), default=0)


def last_days(reading: Reading, view: View, days: int) -> View:
    """The view with `days` plant days up to the newest reading where it names no range of its own."""
    newest, calendar = newest_us(reading), reading.calendar()
    until = view.until or (calendar.plant_day(newest) if newest and calendar else None)
    since = view.since or (until - (days - 1) * _DAY if until else None)
    return view.but(since=since, until=until)


def choices(calendar: Calendar, newest: int, view: View) -> tuple[Choice, ...]:
    """Shift, day and week around the end of a view that has both dates, and the ranges before and after it."""
    if not (view.since and view.until):
        return ()
    week = _week(calendar, view.until)
    shift = view.shift or _last_shift(calendar, newest, view)
    day = view.but(since=view.until, until=view.until, shift="")
    wide = view.but(since=week, until=week + 6 * _DAY, shift="")
    found = [Choice(say("Day"), day, view == day), Choice(say("Week"), wide, view == wide)]
    if shift:
        one = day.but(shift=shift)
        found.insert(0, Choice(say("Shift"), one, view == one))
    return (*_beside(calendar, newest, view, -1), *found, *_beside(calendar, newest, view, 1))


def range_nav(path: str, reading: Reading, view: View) -> Any:
    """The choices as links of a page; nothing before the plant's shifts are known."""
    calendar = reading.calendar()
    found = choices(calendar, newest_us(reading), view) if calendar else ()
    links = [
        dcc.Link(choice.word, href=f"{path}{choice.view.search}", className="range here" if choice.here else "range")
        for choice in found
    ]
    return html.Nav(links, className="ranges", **attributes(aria_label=say("Range")))


def date_range(name: str, view: View) -> Any:
    """The field for any two plant days, both included."""
    return html.Label(
        [
            say("Plant days, both included"),
            dcc.DatePickerRange(
                start_date=view.since.isoformat() if view.since else None,
                end_date=view.until.isoformat() if view.until else None,
                id=name,
                display_format="YYYY-MM-DD" if manner().language != "en" else "D MMM YYYY",
                minimum_nights=0,
                first_day_of_week=1,
                number_of_months_shown=1,
            ),
        ]
    )


def shift_pick(name: str, calendar: Calendar | None, view: View) -> Any:
    """The field for one shift of each day; its value is ALL_SHIFTS or the name of a shift."""
    shifts = list(dict.fromkeys(shift.name for shift in calendar.plant.shifts)) if calendar else []
    options = [
        {"label": say(ALL_SHIFTS), "value": ALL_SHIFTS},
        *({"label": shift, "value": shift} for shift in shifts),
    ]
    field = dcc.Dropdown(options, view.shift or ALL_SHIFTS, id=name, clearable=False, searchable=False)
    return html.Label([say("Shift"), field])


def _beside(calendar: Calendar, newest: int, view: View, step: int) -> list[Choice]:
    """The range before (-1) or after (1) the one shown, none where it lies after the newest reading."""
    moved = _next_shift(calendar, view, step) if _one_shift(view) else _next_days(view, step)
    if moved is None or not moved.since or calendar.day_start_us(moved.since) > newest:
        return []
    return [Choice(say("← earlier") if step < 0 else say("later →"), moved)]


def _one_shift(view: View) -> bool:
    return bool(view.shift) and view.since == view.until


def _next_days(view: View, step: int) -> View | None:
    if not (view.since and view.until) or view.since > view.until:
        return None
    days = (view.until - view.since + _DAY) * step
    return view.but(since=view.since + days, until=view.until + days)


def _next_shift(calendar: Calendar, view: View, step: int) -> View | None:
    """The shift that is worked before or after the one shown, closed days left out."""
    here = [window for window in _of_day(calendar, view) if window.shift == view.shift]
    if not here:
        return None
    start = here[0].start_us
    around = calendar.shifts(view.press, start - 4 * _AROUND_US, start + 4 * _AROUND_US)
    found = [window for window in around if (window.start_us - start) * step > 0 and not window.closed]
    if not found:
        return None
    beside = found[-1] if step < 0 else found[0]
    return view.but(since=beside.shift_date, until=beside.shift_date, shift=beside.shift)


def _last_shift(calendar: Calendar, newest: int, view: View) -> str:
    begun = [window for window in _of_day(calendar, view) if window.start_us < newest]
    return begun[-1].shift if begun else ""


def _of_day(calendar: Calendar, view: View) -> list[ShiftWindow]:
    """Shifts of the last day of a view."""
    if not view.until:
        return []
    start = calendar.day_start_us(view.until)
    around = calendar.shifts(view.press, start - _AROUND_US, start + _AROUND_US)
    return [window for window in around if window.shift_date == view.until]


def _week(calendar: Calendar, date: dt.date) -> dt.date:
    """First day of the plant's week a date lies in."""
    first = WEEKDAYS.index(calendar.plant.week_start)
    return date - ((date.weekday() - first) % 7) * _DAY
