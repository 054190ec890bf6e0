"""Folds one press forward from the first press-day that new rows concern until nothing changes any more."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from types import MappingProxyType

from monitor.ledger import Fold, Writer
from monitor.plant.book import Book
from monitor.plant.carries import last_reading_us
from monitor.reckoning.fold.day import Folded, fold
from monitor.reckoning.fold.open_end import close
from monitor.reckoning.fold.standstills import find_standstills
from monitor.reckoning.press.carry import Carry, from_json, to_json
from monitor.reckoning.press.stops import PlanIndex, decided_us
from monitor.refold.affected_days import AffectedDays
from monitor.refold.day_inputs import DayInputs, DayPart
from monitor.refold.notes import Notes, crosses, entered_stops, habits, read_notes
from monitor.refold.readings import DayReadings, as_readings
from shared.facts import FoldFacts, PieceFact

#: Name of the pseudo-day that holds what is still open after the last fold of a press.
OPEN = "open"

_NOTHING: Mapping[int, int] = MappingProxyType({})


class PressFolding:
    """Folds one press forward from the first day that is affected until nothing changes any more."""

    def __init__(
        self, writer: Writer, book: Book, press_id: str, affected: AffectedDays, anew: bool, reader: Executor
    ) -> None:
        self.writer = writer
        self.book = book
        self.press_id = press_id
        self.days = writer.stroke_days(press_id)
        self.stored = {day: (carry, settled) for day, carry, settled in writer.folds(press_id)}
        self.habits = habits(writer, press_id)
        self.inputs = DayInputs(book, press_id)
        self.edge_us = self.inputs.edge_us
        self.dirty = set(self.days) if anew or self._habits_changed() else self._dirty(affected)
        self._reach_back()
        self._ahead: dict[int, tuple[dict[int, int], Carry]] = {}
        self.readings = DayReadings(writer, press_id, book.calendar, self.days, reader)
        if self.dirty:
            self.readings.expect(self.days.index(min(self.dirty)), self.days.index(max(self.dirty)))

    def _habits_changed(self) -> bool:
        first = next((carry for day, (carry, _) in self.stored.items() if day != OPEN), None)
        return first is not None and from_json(first).habits != self.habits

    def _dirty(self, affected: AffectedDays) -> set[dt.date]:
        plant_day = self.book.calendar.plant_day
        stored = {day for day, (_, settled) in self.stored.items() if settled}
        dirty = {day for day in self.days if day.isoformat() not in stored}
        spans = [(day, day) for day in affected.days.get(self.press_id, ())]
        spans += [(plant_day(us), plant_day(us)) for us in affected.moments.get(self.press_id, ())]
        spans += [(plant_day(begin), plant_day(end)) for begin, end in affected.spans.get(self.press_id, ())]
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
            parts = self.inputs.parts(self.days[place], readings, ahead, carry)
            folded = self._folded(parts, carry, notes)
            later = self._later(place, folded.carry, notes)
            folded = self._folded(parts, carry, notes, later) if later else folded
            carry = folded.carry
            folds.append(Fold(day, folded.facts, to_json(carry), folded.settled))
        return folds, carry

    def _folded(
        self, parts: Sequence[DayPart], carry: Carry, notes: Notes, later: Mapping[int, int] = _NOTHING
    ) -> Folded:
        """Fold the parts of one day; `later` are the standstills of the days after, from start to end [us]."""
        folds: list[Folded] = []
        for number, part in enumerate(parts, 1):
            inputs = self.inputs.press_day(part, carry, notes)
            state = find_standstills(inputs, carry, PlanIndex(inputs.plan)).carry if number < len(parts) else carry
            stops = {**self._seen(parts[number:], state, notes)[0], **later}
            folds.append(fold(replace(inputs, later=tuple(sorted(stops.items()))), carry))
            carry = folds[-1].carry
        facts = FoldFacts()
        for folded in folds:
            facts.add(folded.facts)
        return replace(folds[-1], facts=facts, settled=all(folded.settled for folded in folds))

    def _seen(self, parts: Sequence[DayPart], carry: Carry, notes: Notes) -> tuple[dict[int, int], Carry]:
        """Return the standstills of parts of a day, from start to end [us], and what those after depend on."""
        stops: dict[int, int] = {}
        for part in parts:
            inputs = self.inputs.press_day(part, carry, notes)
            seen = find_standstills(inputs, carry, PlanIndex(inputs.plan))
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
                parts = self.inputs.parts(self.days[at], *self.readings.on(at, at), state)
                self._ahead[at] = self._seen(parts, state, notes)
            found, state = self._ahead[at]
            stops |= found
        return stops

    def _known(self, fold: Fold) -> bool:
        """Tell whether the carry out of a fold is the stored one, so that the days after it stay as they are."""
        return self.stored.get(fold.day, ("", True))[0] == fold.carry

    def _closed(self, carry: Carry, notes: Notes) -> Fold:
        """Fold the open end: what the last reading leaves undecided and what was noted after it."""
        none = as_readings(self.writer.strokes(self.press_id, 0, 0))
        closed = close(self.inputs.open_end(carry, notes, none), carry)
        return Fold(OPEN, closed.facts, to_json(closed.carry), True)
