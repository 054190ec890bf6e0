"""The plant's clock: shifts, breaks and plant days laid out second by second.

Times are whole seconds since 1970 UTC (`_s`).  A second s stands for the time from s to s + 1.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from sample_runs.simulate.book import PlannedShift, PlantPlan

DAY_NAMES = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True)
class Window:
    """One shift as it fell on one date: its bounds and breaks in seconds since 1970 UTC."""

    shift_date: date
    shift: str
    start_s: int
    end_s: int
    breaks: tuple[tuple[int, int], ...]
    closed: bool


def wall_s(day: date, clock: str, zone: ZoneInfo) -> int:
    """Second since 1970 UTC at which the plant clock first shows `clock` ("HH:MM") on `day`."""
    hours, minutes = (int(part) for part in clock.split(":"))
    return int(datetime(day.year, day.month, day.day, hours, minutes, tzinfo=zone).timestamp())


def windows(book: PlantPlan, press_id: str, from_s: int, to_s: int) -> list[Window]:
    """Every shift of the press that has a second in [from_s, to_s), in order of time."""
    zone = ZoneInfo(book.timezone)
    first = datetime.fromtimestamp(from_s, zone).date() - timedelta(days=2)
    last = datetime.fromtimestamp(to_s, zone).date() + timedelta(days=1)
    days = [first + timedelta(days=number) for number in range((last - first).days + 1)]
    found = [
        _window(book, shift, day, zone)
        for day in days
        for shift in book.shifts
        if DAY_NAMES[day.weekday()] in shift.days and (not shift.presses or press_id in shift.presses)
    ]
    touching = [window for window in found if window.end_s > from_s and window.start_s < to_s]
    return sorted(touching, key=lambda window: window.start_s)


def _window(book: PlantPlan, shift: PlannedShift, day: date, zone: ZoneInfo) -> Window:
    def moment(clock: str) -> int:
        return wall_s(day + timedelta(days=int(clock <= shift.start)), clock, zone)

    breaks = tuple((moment(gap.start), moment(gap.end)) for gap in book.breaks if gap.shift == shift.name)
    closed = day.isoformat() in book.closed
    return Window(
        day, shift.name, start_s=wall_s(day, shift.start, zone), end_s=moment(shift.end), breaks=breaks, closed=closed
    )


def day_start_clock(book: PlantPlan) -> str:
    """The clock time at which a plant day starts: the earliest shift start."""
    return min((shift.start for shift in book.shifts), default="00:00")


def plant_day_start_s(book: PlantPlan, day: date) -> int:
    """First second of a plant day."""
    return wall_s(day, day_start_clock(book), ZoneInfo(book.timezone))


def plant_day(book: PlantPlan, second: int) -> date:
    """The plant day in which a second lies."""
    day = datetime.fromtimestamp(second, ZoneInfo(book.timezone)).date()
    return day if plant_day_start_s(book, day) <= second else day - timedelta(days=1)


def offsets_s(zone_name: str, seconds: np.ndarray) -> np.ndarray:
    """Plant time minus UTC in seconds at each second (a whole quarter of an hour has one offset)."""
    zone = ZoneInfo(zone_name)
    quarters, where = np.unique(np.asarray(seconds, dtype=np.int64) // 900, return_inverse=True)
    local = [datetime.fromtimestamp(int(quarter) * 900, zone) for quarter in quarters]
    minutes = [(offset.utcoffset() or timedelta()) // timedelta(minutes=1) for offset in local]
    return np.asarray(np.array(minutes, dtype=np.int64)[where] * 60)


def hour_starts_s(zone_name: str, seconds: np.ndarray) -> np.ndarray:
    """Start of the clock hour of the plant in which each second lies."""
    seconds = np.asarray(seconds, dtype=np.int64)
    return np.asarray(seconds - (seconds + offsets_s(zone_name, seconds)) % 3600)


@dataclass(frozen=True)
class Timeline:
    """One press from `from_s` to `to_s`, second by second: which shift, and whether it is planned time."""

    from_s: int
    to_s: int
    names: tuple[tuple[str, str], ...]
    shift_of: np.ndarray
    planned: np.ndarray

    def shift_at(self, seconds: np.ndarray) -> np.ndarray:
        """Index into `names` of each second."""
        return np.asarray(self.shift_of[np.asarray(seconds) - self.from_s])


def timeline(book: PlantPlan, press_id: str, from_s: int, to_s: int) -> Timeline:
    """Paint shifts and breaks of a press onto seconds; time outside any shift is the plant day's shift ""."""
    length = to_s - from_s
    names: list[tuple[str, str]] = []
    shift_of = np.zeros(length, dtype=np.int32)
    planned = np.zeros(length, dtype=bool)
    day = plant_day(book, from_s)
    while plant_day_start_s(book, day) < to_s:
        start, end = plant_day_start_s(book, day), plant_day_start_s(book, day + timedelta(days=1))
        shift_of[_cut(start, from_s, length) : _cut(end, from_s, length)] = len(names)
        names.append((day.isoformat(), ""))
        day += timedelta(days=1)
    for window in windows(book, press_id, from_s, to_s):
        where = slice(_cut(window.start_s, from_s, length), _cut(window.end_s, from_s, length))
        shift_of[where] = len(names)
        planned[where] = not window.closed
        for start, end in window.breaks:
            planned[_cut(start, from_s, length) : _cut(end, from_s, length)] = False
        names.append((window.shift_date.isoformat(), window.shift))
    return Timeline(from_s, to_s, tuple(names), shift_of, planned)


def _cut(moment_s: int, from_s: int, length: int) -> int:
    return min(max(moment_s - from_s, 0), length)
