"""Keeps the facts in step with the rows: refolds the press-days that new rows touch, and no others."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pyarrow as pa

from monitor.book import Book
from monitor.ledger import Writer
from monitor.reckoning.carry import Carry, from_json, to_json
from monitor.reckoning.close import close
from monitor.reckoning.counters import BELIEVED_AFTER, Ints, Readings
from monitor.reckoning.fold import fold
from monitor.reckoning.press import CoilChange, DieChange, EnteredStop, Event, Plan, PressDay
from monitor.records import records
from monitor.rejecting import rebook

Record = Mapping[str, Any]
Progress = Callable[[int, int], None]

DAY_US = 86_400 * 1_000_000
HOUR_US = 3_600 * 1_000_000

#: Moments at which pieces must be known exactly, by table.
_MARKING = {"inspections": ("time", "made_from", "made_to"), "containers": ("opened_at", "closed_at")}

#: Name of the pseudo-day that holds what is still open after the last fold of a press.
OPEN = "open"

#: How far back an entered stop without an end may still speak of a standstill [us]; common practice, no source.
STANDING_US = 14 * DAY_US


@dataclass
class Touched:
    """What a load touched: press-days with new readings, and moments [us] per press at which something was noted."""

    days: dict[str, set[dt.date]] = field(default_factory=dict)
    moments: dict[str, set[int]] = field(default_factory=dict)
    spans: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    looks: dict[str, set[dt.date]] = field(default_factory=dict)

    def at(self, press_id: str, *moments_us: int | None) -> None:
        """Note that something was said of a press at these moments [us]."""
        self.moments.setdefault(press_id, set()).update(us for us in moments_us if us is not None)

    def during(self, press_id: str, from_us: int, to_us: int | None) -> None:
        """Note that something was said of a press from one moment to another, or from it on [us]."""
        self.spans.setdefault(press_id, []).append((from_us, from_us + STANDING_US if to_us is None else to_us))

    def looked(self, press_id: str, day: dt.date) -> None:
        """Note that inspections of a press and plant day changed."""
        self.looks.setdefault(press_id, set()).add(day)

    @property
    def presses(self) -> set[str]:
        """Return the presses that anything was said of."""
        return {*self.days, *self.moments, *self.spans, *self.looks}


@dataclass(frozen=True)
class Refolded:
    """How many press-days were folded anew."""

    folds: int
    presses: int


def refold(writer: Writer, book: Book, touched: Touched, progress: Progress | None = None) -> Refolded:
    """Fold anew every press-day that the touched rows bear on, and the open end and rejects that follow from them."""
    anew = writer.book_fingerprint() != book.fingerprint
    presses = sorted(writer.presses_with_strokes() if anew else touched.presses)
    folds = 0
    for done, press_id in enumerate(presses):
        notes = _Notes.read(writer, press_id)
        folded = _PressFolding(writer, book, notes, touched).run(anew)
        rebook(writer, book, press_id, folded, touched.looks.get(press_id, set()))
        folds += len(folded)
        if progress:
            progress(done + 1, len(presses))
    writer.put_book_fingerprint(book.fingerprint)
    return Refolded(folds, len(presses))


@dataclass(frozen=True)
class _Notes:
    """What people and machines noted of one press, in time order, with the times [us] beside it."""

    press_id: str
    events: tuple[Event, ...]
    stops: tuple[EnteredStop, ...]
    marks_us: tuple[int, ...]
    first_off: bool
    strip_before: bool

    @classmethod
    def read(cls, writer: Writer, press_id: str) -> _Notes:
        dies = [_die_change(row) for row in records(writer.rows("die_changes", press_id))]
        coils = [_coil_change(row) for row in records(writer.rows("coil_changes", press_id))]
        stops = [_entered(row) for row in records(writer.rows("stops", press_id))]
        events: list[Event] = sorted([*dies, *coils], key=lambda event: event.time_us)
        return cls(
            press_id,
            tuple(events),
            tuple(sorted(stops, key=lambda stop: stop.start_us)),
            tuple(sorted(_marks(writer, press_id))),
            first_off=any(change.event == "first_off" for change in dies),
            # A press whose first coil change is not a mounting ran before its first entry.
            strip_before=not coils or coils[0].event != "mount",
        )

    def events_in(self, after_us: int, until_us: int) -> tuple[Event, ...]:
        times = [event.time_us for event in self.events]
        return self.events[bisect_right(times, after_us) : bisect_right(times, until_us)]

    def stops_in(self, after_us: int, until_us: int) -> tuple[EnteredStop, ...]:
        until = bisect_right([stop.start_us for stop in self.stops], until_us)
        return tuple(s for s in self.stops[:until] if (s.end_us or s.start_us + STANDING_US) > after_us)

    def marks_in(self, after_us: int, until_us: int) -> tuple[int, ...]:
        return self.marks_us[bisect_right(self.marks_us, after_us) : bisect_left(self.marks_us, until_us)]


class _PressFolding:
    """Folds one press forward from the first day that is touched until nothing changes any more."""

    def __init__(self, writer: Writer, book: Book, notes: _Notes, touched: Touched) -> None:
        self.writer = writer
        self.book = book
        self.notes = notes
        self.days = writer.stroke_days(notes.press_id)
        self.touched = touched
        self.folded: list[dt.date] = []

    def run(self, anew: bool) -> list[dt.date]:
        """Fold what must be folded; return the days that were."""
        dirty = set(self.days) if anew else self._dirty()
        if dirty:
            self._forward(min(dirty), dirty)
        if self.days:
            self._close()
        return self.folded

    def _dirty(self) -> set[dt.date]:
        press_id = self.notes.press_id
        stored = {day for day, _, settled in self.writer.folds(press_id) if settled and day != OPEN}
        dirty = {day for day in self.days if day.isoformat() not in stored}
        for day in self.touched.days.get(press_id, set()):
            dirty |= {day, *self._next_to(day)}
        for moment in self.touched.moments.get(press_id, set()):
            noted = self.book.calendar.plant_day(moment)
            dirty |= {day for day in (noted, *self._next_to(noted)) if day in self.days}
        for begin, end in self.touched.spans.get(press_id, []):
            first, last = self.book.calendar.plant_day(begin), self.book.calendar.plant_day(end)
            dirty |= {day for day in self.days if first <= day <= last} | set(self._next_to(last))
        return dirty & set(self.days)

    def _next_to(self, day: dt.date) -> list[dt.date]:
        """Return the day with readings that follows a day, whose first interval reaches back into it."""
        at = bisect_right(self.days, day)
        return self.days[at : at + 1]

    def _forward(self, first: dt.date, dirty: set[dt.date]) -> None:
        press_id = self.notes.press_id
        before = self.writer.fold_carry_before(press_id, first.isoformat())
        carry = from_json(before) if before else Carry()
        old = {day: text for day, text, _ in self.writer.folds(press_id)}
        last_dirty = max(dirty)
        for place in range(self.days.index(first), len(self.days)):
            day = self.days[place]
            folded = fold(self._press_day(place, carry), carry)
            carry = folded.carry
            text = to_json(carry)
            self.writer.replace_fold(press_id, day.isoformat(), folded.facts, text, folded.settled)
            self.folded.append(day)
            if day >= last_dirty and old.get(day.isoformat()) == text:
                return

    def _press_day(self, place: int, carry: Carry) -> PressDay:
        day = self.days[place]
        begin = self.book.calendar.day_start_us(day)
        end = self.book.calendar.day_start_us(day + dt.timedelta(days=1))
        readings = self.writer.strokes(self.notes.press_id, begin, end)
        ahead = self._ahead(place)
        both = _readings(pa.concat_tables([readings, ahead]) if ahead.num_rows else readings)
        last_us = int(both.time_us[readings.num_rows - 1]) if readings.num_rows else end
        first_us = int(both.time_us[0]) if len(both) else begin
        return self._told(both, ahead.num_rows, carry, first_us, last_us)

    def _ahead(self, place: int) -> pa.Table:
        following = self.days[place + 1 : place + 2]
        if not following:
            return self.writer.strokes(self.notes.press_id, 0, 0)
        begin = self.book.calendar.day_start_us(following[0])
        return self.writer.strokes(self.notes.press_id, begin, begin + DAY_US).slice(0, BELIEVED_AFTER)

    def _told(self, readings: Readings, ahead: int, carry: Carry, first_us: int, last_us: int) -> PressDay:
        """Gather all that bears on the readings from the carry's moment to the last of them."""
        since_us = carry.last.time_us if carry.last else first_us
        page = self.book.on(dt.datetime.fromtimestamp(last_us // 1_000_000, dt.UTC))
        return PressDay(
            press=page.press(
                self.notes.press_id, notes_first_off=self.notes.first_off, strip_before=self.notes.strip_before
            ),
            dies=page.dies,
            readings=readings,
            ahead=ahead,
            events=self.notes.events_in(since_us if carry.last else -1 << 62, last_us),
            entered=self.notes.stops_in(_idle_since(carry, since_us), last_us),
            reasons=page.reasons,
            plan=plan(self.book, self.notes.press_id, _idle_since(carry, since_us) - HOUR_US, last_us + HOUR_US),
            marks_us=self.notes.marks_in(since_us, last_us),
        )

    def _close(self) -> None:
        press_id = self.notes.press_id
        carry = from_json(self.writer.folds(press_id, self.days[-1].isoformat())[0][1])
        if carry.last is None:
            return
        none = _readings(self.writer.strokes(press_id, 0, 0))
        told = self._told(none, 0, carry, carry.last.time_us, carry.last.time_us + DAY_US)
        trailing = self.notes.events_in(carry.last.time_us, 1 << 62)
        closed = close(replace(told, events=trailing), carry)
        self.writer.replace_fold(press_id, OPEN, closed.facts, to_json(closed.carry), True)


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


def _idle_since(carry: Carry, since_us: int) -> int:
    return min(since_us, carry.idle.since_us) if carry.idle else since_us


def _die_change(row: Record) -> DieChange:
    outs = tuple(int(out) for out in (row["outs_running"] or "").split(";") if out.strip().isdigit())
    return DieChange(row["time"], row["event"], row["die_id"], row["part_no"] or "", row["order_id"] or "", outs)


def _coil_change(row: Record) -> CoilChange:
    return CoilChange(row["time"], row["event"], row["coil_id"], row["weight_kg"], row["lost_m"])


def _entered(row: Record) -> EnteredStop:
    return EnteredStop(row["start_at"], row["end_at"], row["reason"])


def _readings(table: pa.Table) -> Readings:
    feeds = table.column("feeds")
    known = feeds.fill_null(-1) if feeds.null_count else feeds
    return Readings(
        _ints(table.column("time").cast(pa.int64())),
        _ints(table.column("counter")),
        _ints(known),
        _ints(table.column("load_id")),
        _ints(table.column("line")),
    )


def _ints(column: pa.ChunkedArray) -> Ints:
    return np.asarray(column.combine_chunks().to_numpy(zero_copy_only=False), dtype=np.int64)


def _marks(writer: Writer, press_id: str) -> Iterable[int]:
    """Return the moments at which pieces must be known exactly: inspections and containers [us]."""
    for table, columns in _MARKING.items():
        for row in records(writer.rows(table, press_id)):
            yield from (row[column] for column in columns if row[column] is not None)
