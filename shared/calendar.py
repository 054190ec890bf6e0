"""Plant time: shift windows, plant days and clock hours, right over every clock change.

All instants are integer microseconds since 1970 UTC (`_us`).  A wall time that a clock change skips moves
forward to the end of the gap; one that happens twice means the first.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections.abc import Iterable
from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from shared.durations import DAY_US, HOUR_US, SECOND_US
from shared.plant import DAY_MINUTES, WEEKDAYS, Plant, Shift

_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_EPOCH_ORDINAL = dt.date(1970, 1, 1).toordinal()
_QUARTER_US = HOUR_US // 4


class ShiftWindow(NamedTuple):
    """One shift on one date, its breaks in order; `closed` if its date is a closed one."""

    shift_date: dt.date
    shift: str
    start_us: int
    end_us: int
    breaks: tuple[tuple[int, int], ...]
    closed: bool


class Calendar:
    """Says what shift, plant day and clock hour an instant belongs to; remembers each date once reckoned."""

    def __init__(self, plant: Plant) -> None:
        self.plant = plant
        self._zone = ZoneInfo(plant.timezone)
        self._closed = frozenset(part.date for part in plant.closed)
        self._changes = plant.changes
        self._day_starts = tuple(plant.day_start(date) for date in plant.changes)
        self._listed = frozenset(press_id for shift in plant.shifts for press_id in shift.presses)
        self._windows: dict[tuple[str, int], tuple[ShiftWindow, ...]] = {}
        self._raw: dict[tuple[str, int], tuple[ShiftWindow, ...]] = {}
        self._starts: dict[int, int] = {}
        self._hours: dict[int, tuple[int, ...]] = {}

    def shifts(self, press_id: str, from_us: int, to_us: int) -> list[ShiftWindow]:
        """Every shift of the press with time in [from_us, to_us), in order, not cut at the range."""
        group = press_id if press_id in self._listed else ""
        # A shift lasts a day at most and plant time is at most 14 h from UTC.
        first, last = from_us // DAY_US - 2, (to_us - 1) // DAY_US + 1
        return [
            window
            for day in range(first, last + 1)
            for window in self._windows_on(group, day)
            if window.start_us < to_us and window.end_us > from_us
        ]

    def plant_day(self, us: int) -> dt.date:
        """Plant day an instant belongs to."""
        day = us // DAY_US + 1
        while self._start_on(day) > us:
            day -= 1
        return _date(day)

    def plant_days(self, us: npt.NDArray[np.int64]) -> npt.NDArray[np.datetime64]:
        """Plant day of each instant, as datetime64[D]; any order."""
        if not len(us):
            return np.empty(0, dtype="datetime64[D]")
        first = int(us.min()) // DAY_US - 2
        last = int(us.max()) // DAY_US + 1
        edges = np.array([self._start_on(day) for day in range(first, last + 1)], dtype=np.int64)
        days: npt.NDArray[np.datetime64] = (first - 1 + np.searchsorted(edges, us, side="right")).astype(
            "datetime64[D]"
        )
        return days

    def day_start_us(self, date: dt.date) -> int:
        """Instant a plant day starts at: the earliest shift start by the clock, midnight without shifts."""
        return self._start_on(date.toordinal() - _EPOCH_ORDINAL)

    def hour_starts(self, from_us: int, to_us: int) -> list[int]:
        """Starts of the plant's clock hours in [from_us, to_us); an hour that happens twice starts twice."""
        first, last = from_us // DAY_US - 1, to_us // DAY_US + 1
        return [hour for day in range(first, last + 1) for hour in self._hours_on(day) if from_us <= hour < to_us]

    def local_iso(self, times: Iterable[int | None]) -> list[str]:
        """ISO 8601 text of each instant in plant time with its offset then; "" where there is none."""
        return ["" if us is None else self.local_time(int(us)).isoformat(timespec="auto") for us in times]

    def local_time(self, us: int) -> dt.datetime:
        """Date and clock time of an instant in plant time, with its offset then."""
        return (_EPOCH + dt.timedelta(microseconds=int(us))).astimezone(self._zone)

    def wall_us(self, date: dt.date, minutes: int) -> int:
        """Instant of a wall time: a date and minutes after its midnight (1440 and more: later dates)."""
        naive = dt.datetime.combine(date, dt.time()) + dt.timedelta(minutes=minutes)
        early = _us(naive.replace(tzinfo=self._zone))
        late = _us(naive.replace(tzinfo=self._zone, fold=1))
        # The first of two readings is the earlier instant; only in a gap does fold=1 come before fold=0.
        return early if early <= late else self._gap_end(late, early)

    def _gap_end(self, before_us: int, after_us: int) -> int:
        offset = self.local_time(before_us).utcoffset()
        low, high = before_us // SECOND_US, after_us // SECOND_US
        while high - low > 1:
            middle = (low + high) // 2
            if self.local_time(middle * SECOND_US).utcoffset() == offset:
                low = middle
            else:
                high = middle
        return high * SECOND_US

    def _start_on(self, day: int) -> int:
        start = self._starts.get(day)
        if start is None:
            date = _date(day)
            minutes = self._day_starts[bisect_right(self._changes, date) - 1]
            start = self._starts[day] = self.wall_us(date, minutes)
        return start

    def _windows_on(self, group: str, day: int) -> tuple[ShiftWindow, ...]:
        windows = self._windows.get((group, day))
        if windows is None:
            windows = self._raw_on(group, day)
            following = self._raw_on(group, day + 1)
            if windows and following and windows[-1].end_us > following[0].start_us:
                # The shift plan changes overnight: the new plan's first shift ends the old plan's last.
                windows = (*windows[:-1], _cut(windows[-1], following[0].start_us))
            self._windows[group, day] = windows
        return windows

    def _raw_on(self, group: str, day: int) -> tuple[ShiftWindow, ...]:
        windows = self._raw.get((group, day))
        if windows is None:
            date = _date(day)
            weekday = WEEKDAYS[date.weekday()]
            plan = self.plant.shifts_of(group, date)
            windows = tuple(self._window(shift, date) for shift in plan if weekday in shift.days)
            self._raw[group, day] = windows
        return windows

    def _window(self, shift: Shift, date: dt.date) -> ShiftWindow:
        breaks = tuple(
            (self.wall_us(date, shift.start + start), self.wall_us(date, shift.start + end))
            for start, end in self.plant.breaks_of(shift, date)
        )
        return ShiftWindow(
            shift_date=date,
            shift=shift.name,
            start_us=self.wall_us(date, shift.start),
            end_us=self.wall_us(date, shift.start + shift.length),
            breaks=tuple(span for span in breaks if span[0] < span[1]),
            closed=date in self._closed,
        )

    def _hours_on(self, day: int) -> tuple[int, ...]:
        hours = self._hours.get(day)
        if hours is None:
            start, end = self.wall_us(_date(day), 0), self.wall_us(_date(day), DAY_MINUTES)
            quarters = range(start, end, _QUARTER_US)
            hours = tuple(us for us in quarters if us == start or self._starts_hour(us))
            self._hours[day] = hours
        return hours

    def _starts_hour(self, us: int) -> bool:
        here, before = self.local_time(us), self.local_time(us - _QUARTER_US)
        return (here.hour, here.utcoffset()) != (before.hour, before.utcoffset())


def _cut(window: ShiftWindow, end_us: int) -> ShiftWindow:
    breaks = tuple((start, min(end, end_us)) for start, end in window.breaks if start < end_us)
    return window._replace(end_us=end_us, breaks=breaks)


def _date(day: int) -> dt.date:
    return dt.date.fromordinal(_EPOCH_ORDINAL + day)


def _us(moment: dt.datetime) -> int:
    return (moment - _EPOCH) // dt.timedelta(microseconds=1)
