"""Notes about one press by people and machines, as inputs of a fold."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from monitor.ledger import Snapshot
from monitor.plant.book import Record
from monitor.plant.records import die_change, records
from monitor.reckoning.press.carry import Habits
from monitor.reckoning.press.press_day import CoilChange, EnteredStop, Event
from monitor.reckoning.press.stops import decided_us
from shared.durations import DAY_US, FOREVER_US
from shared.tables import TABLES

#: How long an entered stop without an end, or an open container, may still bear on what follows [us];
#: common practice, no source.
OPEN_ENDED_US = 14 * DAY_US

_ALWAYS = (-FOREVER_US, FOREVER_US)

_EXACT = tuple(table for table in TABLES.values() if table.exact)


@dataclass(frozen=True)
class Notes:
    """Die and coil changes, entered stops and moments that must be known exactly [us], each in order of time."""

    events: Sequence[Event]
    stops: Sequence[EnteredStop]
    marks_us: Sequence[int]

    @cached_property
    def _event_times(self) -> list[int]:
        return [event.time_us for event in self.events]

    def events_in(self, after_us: int, until_us: int) -> tuple[Event, ...]:
        """Return the changes in (after, until] [us]."""
        times = self._event_times
        return tuple(self.events[bisect_right(times, after_us) : bisect_right(times, until_us)])

    def stops_in(self, after_us: int, until_us: int, edge_us: int) -> tuple[EnteredStop, ...]:
        """Return the entered stops that may reach into (after, until] [us], widened by `edge_us` at either end."""
        return tuple(s for s in self.stops if s.start_us - edge_us <= until_us and reach_us(s) + edge_us > after_us)

    def stops_across(self, moment_us: int, edge_us: int) -> tuple[EnteredStop, ...]:
        """Return the entered stops of which what follows a moment [us] decides to which standstill they belong."""
        return tuple(stop for stop in self.stops if crosses(stop, moment_us, edge_us))

    def marks_in(self, after_us: int, until_us: int) -> tuple[int, ...]:
        """Return the marked moments in (after, until) [us]."""
        return tuple(self.marks_us[bisect_right(self.marks_us, after_us) : bisect_left(self.marks_us, until_us)])


def reach_us(stop: EnteredStop) -> int:
    """Return the moment [us] up to which an entered stop may explain standstills."""
    return stop.start_us + OPEN_ENDED_US if stop.end_us is None else stop.end_us


def crosses(stop: EnteredStop, moment_us: int, edge_us: int) -> bool:
    """Tell whether an entered stop, or what it covers beside it, lies on both sides of a moment [us].

    One without an end belongs to the standstill it lies in: it does so only while that may not have begun.
    """
    return stop.start_us - edge_us <= moment_us <= decided_us(stop) + edge_us


def habits(ledger: Snapshot, press_id: str) -> Habits:
    """Return what is entered for a press; a press whose first coil change is no mounting ran before its first entry."""
    first = ledger.earliest("coil_changes", press_id=press_id)
    return Habits(
        first_off=ledger.earliest("die_changes", press_id=press_id, event="first_off") is not None,
        strip_before=first is None or first["event"] != "mount",
    )


def read_notes(ledger: Snapshot, press_id: str, since_us: int | None, edge_us: int) -> Notes:
    """Read the notes about a press that may concern it since a moment [us]; None = from the beginning."""
    held_us = None if since_us is None else since_us - OPEN_ENDED_US
    changes = [die_change(row) for row in records(ledger.rows("die_changes", press_id, since_us))]
    coils = [_coil_change(row) for row in records(ledger.rows("coil_changes", press_id, since_us))]
    stops = entered_stops(ledger, press_id, _ALWAYS[0] if since_us is None else since_us - edge_us, _ALWAYS[1])
    events: list[Event] = sorted([*changes, *coils], key=lambda event: event.time_us)
    return Notes(events, stops, sorted(_marks(ledger, press_id, held_us)))


def entered_stops(ledger: Snapshot, press_id: str, after_us: int, before_us: int) -> list[EnteredStop]:
    """Read the entered stops of a press that began before one moment and may reach beyond another [us]."""
    rows = ledger.spanning("stops", press_id, end="end_at", from_us=after_us, to_us=before_us, open_us=OPEN_ENDED_US)
    return [EnteredStop(row["start_at"], row["end_at"], row["reason"]) for row in rows]


def _marks(ledger: Snapshot, press_id: str, since_us: int | None) -> Iterator[int]:
    """Yield the moments up to which pieces are counted exactly: inspections, containers and reels [us]."""
    for table in _EXACT:
        for row in records(ledger.rows(table.name, press_id, since_us)):
            yield from (row[column] for column in table.moments if row[column] is not None)


def _coil_change(row: Record) -> CoilChange:
    return CoilChange(row["time"], row["event"], row["coil_id"], row["weight_kg"], row["lost_m"])
