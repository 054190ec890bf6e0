"""Inputs of the fold of one press-day: its readings, notes, the plan and the plant book of that day."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

from monitor.plant.book import Book
from monitor.plant.carries import last_reading_us
from monitor.reckoning.press.carry import Carry
from monitor.reckoning.press.counters import BELIEVED_AFTER, Readings
from monitor.reckoning.press.press_day import BookPage, Plan, PressDay
from monitor.refold.notes import Notes
from shared.durations import DAY_US, FOREVER_US, HOUR_US, SECOND_US

#: In a longer gap between two readings [us] only the shifts at its ends are planned: a plant that was closed for
#: months, or a wrong year; common practice, no source.
LONGEST_GAP_US = 31 * DAY_US


@dataclass(frozen=True)
class DayPart:
    """Readings of one plant day, judged by the plant book of a day; the last `ahead` belong to the next day."""

    day: dt.date
    readings: Readings
    ahead: int


class DayInputs:
    """Gathers the inputs of the folds of one press."""

    def __init__(self, book: Book, press_id: str) -> None:
        self.book = book
        self.press_id = press_id
        self.edge_us = round(book.plant.entered_edge_s * SECOND_US)

    def parts(self, day: dt.date, readings: Readings, ahead: int, carry: Carry) -> list[DayPart]:
        """Return a day in parts; the interval up to its first reading is judged by the book of the day it began."""
        began = self.book.day_of(carry.last.time_us) if carry.last else day
        if self.book.page(began) == self.book.page(day) or len(readings) <= ahead:
            return [DayPart(day, readings, ahead)]
        after = min(len(readings) - 1, BELIEVED_AFTER)
        first = DayPart(began, readings.part(0, 1 + after), after)
        if len(readings) - ahead == 1:
            return [first]
        return [first, DayPart(day, readings.part(1, len(readings)), ahead)]

    def press_day(self, part: DayPart, carry: Carry, notes: Notes) -> PressDay:
        """Return all that concerns the readings of a part, from the carry's moment to the last of them."""
        readings, ahead = part.readings, part.ahead
        last_us = int(readings.time_us[len(readings) - ahead - 1]) if len(readings) > ahead else last_reading_us(carry)
        since_us = carry.last.time_us if carry.last else int(readings.time_us[0])
        # An idle stretch that is no stop yet has left no facts.
        first_us = carry.idle.since_us if carry.idle and not carry.idle.is_stop else since_us
        page = self.book.page(part.day)
        return PressDay(
            press=page.press(self.press_id),
            dies=page.dies,
            readings=readings,
            ahead=ahead,
            events=notes.events_in(since_us if carry.last else -FOREVER_US, last_us),
            entered=notes.stops_in(first_us, last_us, self.edge_us),
            reasons=page.reasons,
            plan=self._plan(first_us, since_us, int(readings.time_us[0]) if len(readings) else last_us, last_us),
            marks_us=notes.marks_in(since_us, last_us),
            pages=self._pages(self.book.day_of(first_us), self.book.day_of(last_us)),
            edge_us=self.edge_us,
        )

    def _plan(self, from_us: int, since_us: int, until_us: int, to_us: int) -> Plan:
        """Return the calendar of a span; of a gap of months in it only the shifts of the readings at its ends."""
        around = (from_us - HOUR_US, to_us + HOUR_US)
        if until_us - since_us <= LONGEST_GAP_US:
            return plan(self.book, self.press_id, *around)
        before = plan(self.book, self.press_id, around[0], since_us + DAY_US)
        after = plan(self.book, self.press_id, until_us - DAY_US, around[1])
        begin = next((w.end_us for w in before.windows if w.start_us <= since_us < w.end_us), since_us)
        end = next((w.start_us for w in after.windows if w.start_us < until_us <= w.end_us), until_us)
        return Plan(
            (*(w for w in before.windows if w.end_us <= begin), *(w for w in after.windows if w.start_us >= end)),
            (*(h for h in before.hours_us if h < begin), *(h for h in after.hours_us if h > end - HOUR_US)),
            (*(day for day in before.days if day[0] < begin), *after.days),
            (begin, end),
        )

    def _pages(self, first: dt.date, last: dt.date) -> tuple[BookPage, ...]:
        """Return the plant book of plant days, if it changes within them or just before."""
        first -= dt.timedelta(days=1)
        changes = [change for change in self.book.changes if first < change <= last]
        pages = ((day, self.book.page(day)) for day in (first, *changes)) if changes else ()
        return tuple(BookPage(day.isoformat(), page.dies, page.reasons) for day, page in pages)

    def open_end(self, carry: Carry, notes: Notes, none: Readings) -> PressDay:
        """Return what concerns the time after the last reading; `none` is no reading."""
        last_us = last_reading_us(carry)
        inputs = self.press_day(DayPart(self.book.day_of(last_us), none, 0), carry, notes)
        return replace(
            inputs,
            events=notes.events_in(last_us, FOREVER_US),
            entered=notes.stops_in(last_us, last_us + DAY_US, self.edge_us),
            plan=plan(self.book, self.press_id, last_us - HOUR_US, last_us + DAY_US),
        )


def plan(book: Book, press_id: str, from_us: int, to_us: int) -> Plan:
    """Return the calendar of a press around a span [us]."""
    calendar = book.calendar
    day = calendar.plant_day(from_us)
    days: list[tuple[int, str]] = []
    while not days or days[-1][0] < to_us:
        days.append((calendar.day_start_us(day), day.isoformat()))
        day += dt.timedelta(days=1)
    return Plan(
        tuple(calendar.shifts(press_id, from_us, to_us)),
        tuple(calendar.hour_starts(from_us - HOUR_US, to_us)),
        tuple(days),
    )
