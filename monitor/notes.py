"""What people and machines noted of one press, as the reckoning wants it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from monitor.book import Record
from monitor.ledger import Snapshot
from monitor.reckoning.carry import Habits
from monitor.reckoning.press import CoilChange, EnteredStop, Event
from monitor.records import die_change, records

DAY_US = 86_400 * 1_000_000

#: How long an entered stop without an end, or an open container, may still bear on what follows [us];
#: common practice, no source.
STANDING_US = 14 * DAY_US

_MARKING = {
    "inspections": ("time", "made_from", "made_to"),
    "containers": ("opened_at", "closed_at"),
    "reels": ("started_at", "ended_at"),
}


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

    def stops_in(self, after_us: int, until_us: int) -> tuple[EnteredStop, ...]:
        """Return the entered stops that may bear on (after, until] [us]."""
        began = (stop for stop in self.stops if stop.start_us <= until_us)
        return tuple(stop for stop in began if (stop.end_us or stop.start_us + STANDING_US) > after_us)

    def marks_in(self, after_us: int, until_us: int) -> tuple[int, ...]:
        """Return the marked moments in (after, until) [us]."""
        return tuple(self.marks_us[bisect_right(self.marks_us, after_us) : bisect_left(self.marks_us, until_us)])


def habits(ledger: Snapshot, press_id: str) -> Habits:
    """Return what is entered for a press; a press whose first coil change is no mounting ran before its first entry."""
    first = ledger.earliest("coil_changes", press_id=press_id)
    return Habits(
        first_off=ledger.earliest("die_changes", press_id=press_id, event="first_off") is not None,
        strip_before=first is None or first["event"] != "mount",
    )


def read_notes(ledger: Snapshot, press_id: str, since_us: int | None) -> Notes:
    """Read what was noted of a press since a moment [us]; None is from the beginning."""
    reach_us = None if since_us is None else since_us - STANDING_US
    changes = [die_change(row) for row in records(ledger.rows("die_changes", press_id, since_us))]
    coils = [_coil_change(row) for row in records(ledger.rows("coil_changes", press_id, since_us))]
    stops = [_entered(row) for row in records(ledger.rows("stops", press_id, reach_us))]
    events: list[Event] = sorted([*changes, *coils], key=lambda event: event.time_us)
    return Notes(events, sorted(stops, key=lambda stop: stop.start_us), sorted(_marks(ledger, press_id, reach_us)))


def _marks(ledger: Snapshot, press_id: str, since_us: int | None) -> Iterator[int]:
    """Yield the moments at which pieces must be known exactly: inspections, containers and reels [us]."""
    for table, columns in _MARKING.items():
        for row in records(ledger.rows(table, press_id, since_us)):
            yield from (row[column] for column in columns if row[column] is not None)


def _coil_change(row: Record) -> CoilChange:
    return CoilChange(row["time"], row["event"], row["coil_id"], row["weight_kg"], row["lost_m"])


def _entered(row: Record) -> EnteredStop:
    return EnteredStop(row["start_at"], row["end_at"], row["reason"])
