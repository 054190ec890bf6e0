"""One way to choose a range on every page: a shift, a day, a week or any dates; what is chosen stands in the address.

A page makes a `RangePicker`, puts what it `shows` at the end of its pickers, and has it `register`.  `choices` works
out the ranges to choose from; `bounds` is what the range of a view asks of the figures.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import pandas as pd
from dash import Dash, Input, Output, dcc, html

from dashboards.ledger.service import LedgerService
from dashboards.ledger.version import LedgerVersion
from dashboards.parts.components import attributes
from dashboards.parts.linked_fields import PageField, days, keep, picked
from dashboards.parts.shift_shown import newest_of
from dashboards.request.locale import key, locale, say
from dashboards.request.url import View
from monitor.figures.scope import Bound
from shared.calendar import Calendar, ShiftWindow
from shared.durations import DAY_US, FOREVER_US
from shared.plant import WEEKDAYS

ALL_SHIFTS = key("all shifts")
ALL_TIME = key("All")

_DAY = dt.timedelta(days=1)
_AROUND_US = 3 * DAY_US


@dataclass(frozen=True)
class Choice:
    """A range to choose: its word, the view it leads to, and whether it is the one shown."""

    word: str
    view: View
    here: bool = False


def newest_us(reading: LedgerVersion) -> int:
    """Newest counter reading of the plant in microseconds, 0 where there is none."""
    return newest_of(reading.press_states())


def last_days(reading: LedgerVersion, view: View, days: int) -> View:
    """The view with `days` plant days up to the newest reading where it names no range of its own."""
    newest, calendar = newest_us(reading), reading.calendar()
    until = view.until or (calendar.plant_day(newest) if newest and calendar else None)
    since = view.since or (until - (days - 1) * _DAY if until else None)
    return view.but(since=since, until=until)


def choices(calendar: Calendar, newest: int, view: View, whole: bool = False) -> tuple[Choice, ...]:
    """Shift, day and week around the end of a view that has both dates, and the ranges before and after it.

    With `whole` a view needs no dates: they are those of the newest reading, and one choice is all there is.
    """
    if not (view.since and view.until):
        return _first(calendar, newest, view) if whole else ()
    all_of_it = (Choice(ALL_TIME, _whole(view)),) if whole else ()
    before, after = (_beside(calendar, newest, view, step) for step in (-1, 1))
    return (*before, *_around(calendar, newest, view, view), *all_of_it, *after)


def _first(calendar: Calendar, newest: int, view: View) -> tuple[Choice, ...]:
    last = calendar.plant_day(newest) if newest else None
    found = _around(calendar, newest, view.but(since=last, until=last), view) if last else ()
    return (*found, Choice(ALL_TIME, _whole(view), here=not (view.since or view.until)))


def _whole(view: View) -> View:
    return view.but(since=None, until=None, shift="")


def _around(calendar: Calendar, newest: int, view: View, here: View) -> tuple[Choice, ...]:
    """The last shift, the last day and the week of a view; the one that `here` shows is marked."""
    assert view.until is not None
    week = _week(calendar, view.until)
    day = view.but(since=view.until, until=view.until, shift="")
    wide = view.but(since=week, until=week + 6 * _DAY, shift="")
    found = [(key("Day"), day), (key("Week"), wide)]
    shift = day.but(shift=view.shift) if view.shift else _last_shift(calendar, newest, view)
    if shift is not None:
        found.insert(0, (key("Shift"), shift))
    return tuple(Choice(word, view, view == here) for word, view in found)


@dataclass(frozen=True)
class RangePicker:
    """The range picker of a page: where the page is, the ids of address, dates and links, and what it shows unasked.

    `shift` is the id of a field for one shift of each day, "" on a page that cannot show that; `whole` that the page
    shows all there is where the address names no range; `newest` gives the moment beyond which there is nothing [us].
    """

    path: str
    url: str
    dates: str
    links: str
    filled: Callable[[LedgerVersion, View], View]
    shift: str = ""
    whole: bool = False
    newest: Callable[[LedgerVersion], int] = newest_us

    def shows(self, reading: LedgerVersion, view: View) -> Any:
        """The fields and links for a view, to stand at the end of the pickers of a page."""
        view = self.filled(reading, view)
        fields = [date_range(self.dates, view)]
        if self.shift:
            fields.append(shift_pick(self.shift, reading.calendar(), view))
        return html.Div([*fields, html.Div(self._nav(reading, view), id=self.links)], className="range-picker")

    def register(self, app: Dash, service: LedgerService, *own: PageField, also: tuple[Input, ...] = ()) -> None:
        """Keep the range and a page's own fields in step with the address."""
        shifts = (picked(self.shift, "shift", ALL_SHIFTS),) if self.shift else ()
        fields = (*own, *days(self.dates, bool(self.shift)), *shifts)
        keep(app, self.url, fields, lambda view: self.filled(service.read(), view), *also)
        app.callback(Output(self.links, "children"), Input(self.url, "search"), prevent_initial_call=True)(
            partial(self._follow, service)
        )

    def _follow(self, service: LedgerService, search: str | None) -> Any:
        reading = service.read()
        return self._nav(reading, self.filled(reading, View.parse(search)))

    def _nav(self, reading: LedgerVersion, view: View) -> Any:
        calendar = reading.calendar()
        return range_nav(self.path, choices(calendar, self.newest(reading), view, self.whole) if calendar else ())


def range_nav(path: str, found: tuple[Choice, ...]) -> Any:
    """Ranges as links of a page."""
    links = [
        dcc.Link(
            say(choice.word), href=f"{path}{choice.view.search}", className="range here" if choice.here else "range"
        )
        for choice in found
    ]
    return html.Nav(links, className="ranges", **attributes(aria_label=say("Range")))


def bounds(calendar: Calendar | None, view: View) -> tuple[Bound, Bound]:
    """Beginning and end of a view's range as figures ask for them, "" where it has none.

    One shift of one day [us] where it names one, else whole plant days.
    """
    after = (view.until + _DAY).isoformat() if view.until else ""
    if calendar and _one_shift(view):
        for window in _of_day(calendar, view):
            if window.shift == view.shift:
                return window.start_us, window.end_us
    return view.since.isoformat() if view.since else "", after


def bounds_us(calendar: Calendar | None, view: View) -> tuple[int | None, int | None]:
    """The same in microseconds since 1970 UTC, None where there is no bound."""
    begin, end = (_bound_us(calendar, bound) for bound in bounds(calendar, view))
    return begin, end


def _bound_us(calendar: Calendar | None, bound: Bound) -> int | None:
    if not isinstance(bound, str):
        return bound
    return calendar.day_start_us(dt.date.fromisoformat(bound)) if bound and calendar else None


def within(rows: pd.DataFrame, column: str, calendar: Calendar | None, view: View) -> pd.DataFrame:
    """The rows whose moment in a column [us] lies in the range of a view."""
    begin, end = bounds_us(calendar, view)
    if begin is None and end is None:
        return rows
    at = rows[column].fillna(0)
    return rows[(at >= (0 if begin is None else begin)) & (at < (FOREVER_US if end is None else end))]


def date_range(name: str, view: View) -> Any:
    """The field for any two plant days, both included."""
    return html.Label(
        [
            say("Plant days, both included"),
            dcc.DatePickerRange(
                start_date=view.since.isoformat() if view.since else None,
                end_date=view.until.isoformat() if view.until else None,
                id=name,
                start_date_placeholder_text=say("first day"),
                end_date_placeholder_text=say("last day"),
                display_format="YYYY-MM-DD" if locale().language != "en" else "D MMM YYYY",
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
    return [Choice(key("← earlier") if step < 0 else key("later →"), moved)]


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


def _last_shift(calendar: Calendar, newest: int, view: View) -> View | None:
    """The last shift up to the end of a view that was worked and had begun, a day or two before it at most."""
    assert view.until is not None
    begun = [one for one in _around_day(calendar, view) if one.start_us < newest and one.shift_date <= view.until]
    worked = [one for one in begun if not one.closed]
    if not worked:
        return None
    last = worked[-1]
    return view.but(since=last.shift_date, until=last.shift_date, shift=last.shift)


def _of_day(calendar: Calendar, view: View) -> list[ShiftWindow]:
    """Shifts of the last day of a view."""
    return [window for window in _around_day(calendar, view) if window.shift_date == view.until]


def _around_day(calendar: Calendar, view: View) -> list[ShiftWindow]:
    """Shifts of the days around the last one of a view."""
    if not view.until:
        return []
    start = calendar.day_start_us(view.until)
    return calendar.shifts(view.press, start - _AROUND_US, start + _AROUND_US)


def _week(calendar: Calendar, date: dt.date) -> dt.date:
    """First day of the plant's week a date lies in."""
    first = WEEKDAYS.index(calendar.plant.week_start)
    return date - ((date.weekday() - first) % 7) * _DAY
