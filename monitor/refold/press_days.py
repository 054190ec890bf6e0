"""Keeps the facts in step with the rows: refolds the press-days that new rows touch, and no others."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass, replace
from types import MappingProxyType

from monitor.ledger import Fold, Writer
from monitor.plant.book import Book
from monitor.plant.carries import last_reading_us
from monitor.plant.records import records
from monitor.reckoning.fold.day import Folded, fold
from monitor.reckoning.fold.open_end import close
from monitor.reckoning.fold.standstills import see
from monitor.reckoning.press.carry import Carry, from_json, to_json
from monitor.reckoning.press.counters import BELIEVED_AFTER, Readings
from monitor.reckoning.press.press_day import BookPage, Plan, PressDay
from monitor.reckoning.press.stops import PlanIndex, decided_us
from monitor.refold.affected import Touched
from monitor.refold.notes import Notes, crosses, entered_stops, habits, read_notes
from monitor.refold.readings import DayReadings, as_readings
from monitor.refold.rejects import rebook
from shared.durations import DAY_US, FOREVER_US, HOUR_US, SECOND_US
from shared.errors import DamagedPart
from shared.facts import FoldFacts, PieceFact

Progress = Callable[[int, int], None]


#: Of a longer gap between two readings [us] no shift in between is told of: a plant that was closed for months, or a
#: wrong year; common practice, no source.
LONGEST_GAP_US = 31 * DAY_US

#: Name of the pseudo-day that holds what is still open after the last fold of a press.
OPEN = "open"


_NOTHING: Mapping[int, int] = MappingProxyType({})


@dataclass(frozen=True)
class Refolded:
    """How many press-days of how many presses were folded anew; `left` presses could not be: a file is damaged."""

    folds: int
    presses: int
    left: int = 0


def refold(writer: Writer, book: Book, touched: Touched, progress: Progress | None = None) -> Refolded:
    """Fold anew every press-day that the touched rows bear on, and the open end and rejects that follow from them."""
    renewed = not writer.is_reckoned
    if renewed:
        writer.forget_facts()
        _look_at_all(writer, book, touched)
    anew = renewed or writer.book_fingerprint() != book.fingerprint
    presses = sorted(touched.presses.union(writer.presses_with_strokes() if anew else ()))
    folds = left = 0
    with ThreadPoolExecutor(1, "strokeledger-readings") as reader:
        for done, work in enumerate(
            _read_ahead(writer, book, touched=touched, presses=presses, anew=anew, reader=reader)
        ):
            try:
                folded = work.run()
            except DamagedPart:
                # The facts go on to hold as they are; a check names the file, and loading it again folds these days.
                work.put_off()
                left += 1
                continue
            rebook(writer, book, work.press_id, folded, touched.looks.get(work.press_id, set()))
            folds += len(folded)
            if progress:
                progress(done + 1, len(presses))
    writer.put_reckoning()
    writer.put_book_fingerprint(book.fingerprint)
    return Refolded(folds, len(presses), left)


def _look_at_all(writer: Writer, book: Book, touched: Touched) -> None:
    """Note every inspection there is as one to be booked."""
    for row in records(writer.rows("inspections")):
        touched.looked(row["press_id"], book.day_of(row["time"]))


def _read_ahead(
    writer: Writer, book: Book, touched: Touched, presses: Sequence[str], anew: bool, reader: Executor
) -> Iterator[_PressFolding]:
    """Yield the folding of each press while the readings of the next one are on their way."""
    coming: _PressFolding | None = None
    for press_id in presses:
        following = _PressFolding(writer, book, press_id=press_id, touched=touched, anew=anew, reader=reader)
        if coming is not None:
            yield coming
        coming = following
    if coming is not None:
        yield coming


def fold_day(writer: Writer, book: Book, press_id: str, day: dt.date) -> Fold | None:
    """Fold one press-day again from the carry before it, leaving what is stored as it is; None without readings."""
    with ThreadPoolExecutor(1, "strokeledger-readings") as reader:
        work = _PressFolding(
            writer, book, press_id=press_id, touched=Touched(days={press_id: {day}}), anew=False, reader=reader
        )
        work.dirty &= {day}
        return next(iter(work.fold_only()), None)


@dataclass(frozen=True)
class _DayPart:
    """Readings of one plant day, judged by the plant book of a day; the last `ahead` are only looked at."""

    day: dt.date
    readings: Readings
    ahead: int


class _PressFolding:
    """Folds one press forward from the first day that is touched until nothing changes any more."""

    def __init__(
        self, writer: Writer, book: Book, press_id: str, touched: Touched, anew: bool, reader: Executor
    ) -> None:
        self.writer = writer
        self.book = book
        self.press_id = press_id
        self.days = writer.stroke_days(press_id)
        self.stored = {day: (carry, settled) for day, carry, settled in writer.folds(press_id)}
        self.habits = habits(writer, press_id)
        self.edge_us = round(book.plant.entered_edge_s * SECOND_US)
        self.dirty = set(self.days) if anew or self._habits_changed() else self._dirty(touched)
        self._reach_back()
        self._ahead: dict[int, tuple[dict[int, int], Carry]] = {}
        self.readings = DayReadings(writer, press_id, book.calendar, self.days, reader)
        if self.dirty:
            self.readings.expect(self.days.index(min(self.dirty)), self.days.index(max(self.dirty)))

    def _habits_changed(self) -> bool:
        first = next((carry for day, (carry, _) in self.stored.items() if day != OPEN), None)
        return first is not None and from_json(first).habits != self.habits

    def _dirty(self, touched: Touched) -> set[dt.date]:
        plant_day = self.book.calendar.plant_day
        stored = {day for day, (_, settled) in self.stored.items() if settled}
        dirty = {day for day in self.days if day.isoformat() not in stored}
        spans = [(day, day) for day in touched.days.get(self.press_id, ())]
        spans += [(plant_day(us), plant_day(us)) for us in touched.moments.get(self.press_id, ())]
        spans += [(plant_day(begin), plant_day(end)) for begin, end in touched.spans.get(self.press_id, ())]
        for first, last in spans:
            dirty.update(day for day in self.days if first <= day <= last)
            # The first interval of the day that follows reaches back into this one.
            dirty.update(self.days[bisect_right(self.days, last) :][:1])
        return dirty

    def _reach_back(self) -> None:
        """Add the days on which an entered stop begins that what follows may give to another standstill."""
        waiting = sorted(self.dirty)
        while waiting:
            place = self.days.index(waiting.pop())
            if place == 0 or self.days[place - 1] in self.dirty:
                continue
            last_us = last_reading_us(from_json(self.stored[self.days[place - 1].isoformat()][0]))
            near = entered_stops(self.writer, self.press_id, last_us - self.edge_us - 1, last_us + self.edge_us + 1)
            began = [stop.start_us - self.edge_us for stop in near if crosses(stop, last_us, self.edge_us)]
            if began:
                first = min(self.book.calendar.plant_day(min(began)), self.days[place - 1])
                more = {day for day in self.days[:place] if day >= first} - self.dirty
                self.dirty |= more
                waiting += sorted(more)

    def run(self) -> dict[dt.date, Sequence[PieceFact]]:
        """Fold what must be folded; return the piece facts of the days that were."""
        if not self.days:
            return {}
        carry = self._carry_in()
        notes = read_notes(self.writer, self.press_id, carry.last.time_us if carry.last else None, self.edge_us)
        folds: list[Fold] = []
        if self.dirty:
            folds, carry = self._forward(min(self.dirty), carry, notes)
        if carry.last is not None:
            folds.append(self._closed(carry, notes))
        self.writer.replace_folds(self.press_id, folds)
        return {dt.date.fromisoformat(f.day): f.facts.pieces for f in folds if f.day != OPEN}

    def fold_only(self) -> list[Fold]:
        """Fold what must be folded and return it, leaving what is stored as it is."""
        carry = self._carry_in()
        notes = read_notes(self.writer, self.press_id, carry.last.time_us if carry.last else None, self.edge_us)
        return self._forward(min(self.dirty), carry, notes)[0] if self.dirty else []

    def put_off(self) -> None:
        """Leave the folds to a later load."""
        if self.dirty:
            self.writer.unsettle(self.press_id, min(self.dirty).isoformat())

    def _carry_in(self) -> Carry:
        """Return the carry into the first day to fold, or out of the last day where there is none to fold."""
        if not self.dirty:
            return from_json(self.stored[self.days[-1].isoformat()][0])
        before = self.writer.fold_carry_before(self.press_id, min(self.dirty).isoformat())
        return from_json(before) if before else Carry(habits=self.habits)

    def _forward(self, first: dt.date, carry: Carry, notes: Notes) -> tuple[list[Fold], Carry]:
        """Fold from a day on; return the folds and the carry out of the last day there is."""
        folds: list[Fold] = []
        last = self.days.index(max(self.dirty))
        for place in range(self.days.index(first), len(self.days)):
            day = self.days[place].isoformat()
            if place > last and self._known(folds[-1]):
                return folds, from_json(self.stored[self.days[-1].isoformat()][0])
            readings, ahead = self.readings.on(place, last)
            parts = self._parts(self.days[place], readings, ahead, carry)
            folded = self._folded(parts, carry, notes)
            later = self._later(place, folded.carry, notes)
            folded = self._folded(parts, carry, notes, later) if later else folded
            carry = folded.carry
            folds.append(Fold(day, folded.facts, to_json(carry), folded.settled))
        return folds, carry

    def _parts(self, day: dt.date, readings: Readings, ahead: int, carry: Carry) -> list[_DayPart]:
        """Return a day in parts; the interval up to its first reading is judged by the book of the day it began."""
        began = self.book.day_of(carry.last.time_us) if carry.last else day
        if self.book.page(began) == self.book.page(day) or len(readings) <= ahead:
            return [_DayPart(day, readings, ahead)]
        after = min(len(readings) - 1, BELIEVED_AFTER)
        first = _DayPart(began, readings.part(0, 1 + after), after)
        if len(readings) - ahead == 1:
            return [first]
        return [first, _DayPart(day, readings.part(1, len(readings)), ahead)]

    def _folded(
        self, parts: Sequence[_DayPart], carry: Carry, notes: Notes, later: Mapping[int, int] = _NOTHING
    ) -> Folded:
        """Fold the parts of one day; `later` are the standstills of the days after, from start to end [us]."""
        folds: list[Folded] = []
        for number, part in enumerate(parts, 1):
            told = self._told(part, carry, notes)
            state = see(told, carry, PlanIndex(told.plan)).carry if number < len(parts) else carry
            stops = {**self._seen(parts[number:], state, notes)[0], **later}
            folds.append(fold(replace(told, later=tuple(sorted(stops.items()))), carry))
            carry = folds[-1].carry
        facts = FoldFacts()
        for folded in folds:
            facts.add(folded.facts)
        return replace(folds[-1], facts=facts, settled=all(folded.settled for folded in folds))

    def _seen(self, parts: Sequence[_DayPart], carry: Carry, notes: Notes) -> tuple[dict[int, int], Carry]:
        """Return the standstills of parts of a day, from start to end [us], and what those after depend on."""
        stops: dict[int, int] = {}
        for part in parts:
            told = self._told(part, carry, notes)
            seen = see(told, carry, PlanIndex(told.plan))
            stops |= seen.stops
            carry = seen.carry
        return stops, carry

    def _later(self, place: int, state: Carry, notes: Notes) -> dict[int, int]:
        """Return the standstills of the days after one, as far as entered stops reach that cross its end."""
        across = notes.stops_across(last_reading_us(state), self.edge_us)
        until_us = max((decided_us(stop) + self.edge_us for stop in across), default=0)
        stops: dict[int, int] = {}
        for at in range(place + 1, len(self.days)):
            if last_reading_us(state) > until_us:
                break
            if at not in self._ahead:
                parts = self._parts(self.days[at], *self.readings.on(at, at), state)
                self._ahead[at] = self._seen(parts, state, notes)
            found, state = self._ahead[at]
            stops |= found
        return stops

    def _known(self, fold: Fold) -> bool:
        """Tell whether a fold carries on what it carried on before, so that the days after it stand as they are."""
        return self.stored.get(fold.day, ("", True))[0] == fold.carry

    def _told(self, part: _DayPart, carry: Carry, notes: Notes) -> PressDay:
        """Gather all that bears on the readings of a part, from the carry's moment to the last of them."""
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

    def _closed(self, carry: Carry, notes: Notes) -> Fold:
        """Reckon the open end: what the last reading leaves undecided and what was noted after it."""
        last_us = last_reading_us(carry)
        none = as_readings(self.writer.strokes(self.press_id, 0, 0))
        told = self._told(_DayPart(self.book.day_of(last_us), none, 0), carry, notes)
        told = replace(
            told,
            events=notes.events_in(last_us, FOREVER_US),
            entered=notes.stops_in(last_us, last_us + DAY_US, self.edge_us),
            plan=plan(self.book, self.press_id, last_us - HOUR_US, last_us + DAY_US),
        )
        closed = close(told, carry)
        return Fold(OPEN, closed.facts, to_json(closed.carry), True)


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
