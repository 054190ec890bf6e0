"""The stops of a die, each to be tapped: the shifts it ran in as ribbons, and the stops as a list, bare ones first."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from dashboards.ledger.picks import pack
from dashboards.ledger.records import Record, records
from dashboards.ledger.version import LedgerVersion
from dashboards.parts.ribbon import PLAN_REASONS, Axis, Span, pick_of, press_track, reason_name
from dashboards.request.formats import clock, date_of, duration, known, short_day, text
from dashboards.request.url import View
from monitor.reckoning.press.stops import NO_REASON
from shared.calendar import Calendar, ShiftWindow
from shared.durations import DAY_US, HOUR_US

MOST_RIBBONS = 21
"""Shifts drawn, the newest first: a week of three shifts; the others are to be had by a narrower range."""

MOST_STOPS = 200
"""Stops listed, those without a reason first."""


@dataclass(frozen=True)
class ShiftRibbon:
    """What a press did in one shift in which the die ran; `page` is the view of that shift."""

    words: str
    press_id: str
    page: View
    track: tuple[Span, ...]


@dataclass(frozen=True)
class DieStop:
    """A stop in words; `pick` is what is picked by tapping it (see `dashboards.ledger.picks.pack`)."""

    words: str
    lasted: str
    reason: str
    kind: str
    bare: bool
    pick: str
    stop_id: str = ""


def shift_ribbons(reading: LedgerVersion, shifts: pd.DataFrame) -> tuple[ShiftRibbon, ...]:
    """The newest shifts of some rows of the figure `shifts`, each drawn as the press went through it."""
    calendar = reading.calendar()
    if calendar is None or shifts.empty:
        return ()
    found = _windows(calendar, shifts)[:MOST_RIBBONS]
    if not found:
        return ()
    begin = min(window.shift_date for _, window in found).isoformat()
    end = (max(window.shift_date for _, window in found) + dt.timedelta(days=1)).isoformat()
    drawn = _Drawn(reading, calendar, begin, end)
    return tuple(drawn.ribbon(press, window) for press, window in found)


def _windows(calendar: Calendar, shifts: pd.DataFrame) -> list[tuple[str, ShiftWindow]]:
    """The shifts of the rows by press, the newest first."""
    found = []
    for press, date in shifts[["press_id", "shift_date"]].drop_duplicates().itertuples(index=False, name=None):
        start = calendar.day_start_us(dt.date.fromisoformat(date))
        wanted = set(shifts.loc[(shifts["press_id"] == press) & (shifts["shift_date"] == date), "shift"])
        around = calendar.shifts(press, start - DAY_US, start + 2 * DAY_US)
        found += [(str(press), one) for one in around if one.shift_date.isoformat() == date and one.shift in wanted]
    return sorted(found, key=lambda one: (-one[1].start_us, one[0]))


class _Drawn:
    """Draws shifts of presses between two plant days."""

    def __init__(self, reading: LedgerVersion, calendar: Calendar, begin: str, end: str) -> None:
        self._reading, self._calendar, self._range = reading, calendar, (begin, end)
        self._names = reading.names("reasons")
        self._seen = {
            row["press_id"]: int(row["last_reading_us"]) if known(row["last_reading_us"]) else 0
            for row in records(reading.press_states())
        }
        self._held: dict[str, tuple[list[Record], list[tuple[int, Record]], list[Record]]] = {}

    def ribbon(self, press: str, window: ShiftWindow) -> ShiftRibbon:
        axis = Axis(window.start_us, window.end_us, self._seen.get(press, 0), max(self._seen.values(), default=0))
        stops, hours, unseen = self._of(press)
        stops = [row for row in stops if row["shift_date"] == window.shift_date.isoformat()]
        here = [row for start_us, row in hours if window.start_us - HOUR_US < start_us < window.end_us]
        page = View(press=press, date=window.shift_date, shift=window.shift)
        track = press_track(
            axis, window, stops=stops, hours=here, calendar=self._calendar, names=self._names, unseen=unseen
        )
        return ShiftRibbon(f"{short_day(window.shift_date)} · {window.shift}", press, page, tuple(track))

    def _of(self, press: str) -> tuple[list[Record], list[tuple[int, Record]], list[Record]]:
        """Stops of a press, its hours with the moments they begin [us], and the stretches that nobody saw."""
        if press not in self._held:
            tables = self._reading.figures(("stops", "hours"), *self._range, press=press)
            hours = [(int(row["hour_start"]), row) for row in records(tables["hours"])]
            unseen = records(self._reading.floor.unresolved(*self._range, press))
            self._held[press] = records(tables["stops"]), hours, unseen
        return self._held[press]


def die_stops(stops: pd.DataFrame, names: Mapping[str, str], calendar: Calendar) -> tuple[DieStop, ...]:
    """The stops of some rows of the figure `stops` that a reason can be given for: bare ones first, then the newest."""
    rows = [row for row in records(stops) if row["reason"] not in PLAN_REASONS]
    several = len({row["press_id"] for row in rows}) > 1
    newest = sorted(rows, key=lambda row: int(row["start_at"]), reverse=True)
    ranked = sorted(newest, key=lambda row: row["reason"] != NO_REASON)
    return tuple(_stop(row, names, several, calendar) for row in ranked[:MOST_STOPS])


def _stop(row: Record, names: Mapping[str, str], several: bool, calendar: Calendar) -> DieStop:
    start, end = clock(row["start_at"], calendar), clock(row["end_at"], calendar)
    when = f"{short_day(date_of(row['start_at'], calendar))} {start}–{end}"
    reason = text(row["reason"])
    return DieStop(
        words=f"{row['press_id']} {when}" if several else when,
        lasted=duration(row["seconds"]),
        reason=reason_name(reason, names),
        kind=text(row["kind"]),
        bare=reason == NO_REASON,
        pick=pack([pick_of(row)]),
        stop_id=text(row["stop_id"]),
    )
