"""Inputs of a fold: the press, its dies, its calendar and the notes by people and machines."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.reckoning.press.counters import Readings
from shared.calendar import ShiftWindow
from shared.durations import MINUTE_US

#: How much more of a standstill than was noted an entered stop covers at either end [us], where the plant says nothing.
EDGE_US = 5 * MINUTE_US


@dataclass(frozen=True)
class Out:
    """One piece per stroke: its number, its part and the station at which it parts off."""

    out: int
    part_no: str
    station: int


@dataclass(frozen=True)
class Die:
    """A die as the plant book has it; `stations` is S, the highest station number (1 where none are listed)."""

    die_id: str
    pitch_mm: float
    rated_spm: float
    stations: int
    outs: tuple[Out, ...]


@dataclass(frozen=True)
class Press:
    """A press as the plant book has it."""

    press_id: str
    stop_after_us: int
    rated_spm: float | None = None
    modulus: int | None = None
    lead_in_mm: float = 0.0


@dataclass(frozen=True)
class DieChange:
    """A row of `die_changes`."""

    time_us: int
    event: str
    die_id: str
    part_no: str = ""
    order_id: str = ""
    outs_running: tuple[int, ...] = ()


@dataclass(frozen=True)
class CoilChange:
    """A row of `coil_changes`."""

    time_us: int
    event: str
    coil_id: str
    weight_kg: float | None = None
    lost_m: float | None = None


Event = DieChange | CoilChange

#: At one moment what leaves comes before what arrives.
_ORDER = {
    name: place
    for place, name in enumerate(
        ("last_off", "pull", "remove", "set", "change", "mount", "splice", "joint", "cut", "first_off")
    )
}


def in_order(events: list[Event]) -> list[Event]:
    """Sort events by time; at one moment what leaves the press comes before what arrives."""
    return sorted(events, key=lambda event: (event.time_us, _ORDER[event.event]))


@dataclass(frozen=True)
class EnteredStop:
    """A row of `stops`: who stands since when [us], until when (None = still standing), and why."""

    start_us: int
    end_us: int | None
    reason: str


@dataclass(frozen=True)
class Reason:
    """A row of `reasons`."""

    kind: str
    in_planned_time: bool


@dataclass(frozen=True)
class Plan:
    """The calendar around the readings: shifts in order, hour starts [us], plant-day starts [us] with their dates.

    `silent` is the part [us] of a gap of months that is left out of it: nothing is booked there.
    """

    windows: tuple[ShiftWindow, ...]
    hours_us: tuple[int, ...]
    days: tuple[tuple[int, str], ...]
    silent: tuple[int, int] | None = None


@dataclass(frozen=True)
class BookPage:
    """Dies and reasons as the plant book has them from one shift date on."""

    since: str
    dies: Mapping[str, Die]
    reasons: Mapping[str, Reason]


@dataclass(frozen=True)
class PressDay:
    """All that one fold needs: the readings of one press and plant day and everything they are judged by.

    `ahead` readings at the end belong to the days after and are only looked at; `marks_us` are further moments at
    which strokes must be known exactly (inspections, containers).  Where the plant book changes within the span,
    `pages` hold what was true of which date, in order.  An entered stop covers up to `edge_us` more of its standstill
    at either end; `later` are the standstills [us] of the days after that an entered stop reaches into, the one that
    goes on at the end of the day included.
    """

    press: Press
    dies: Mapping[str, Die]
    readings: Readings
    ahead: int
    events: tuple[Event, ...]
    entered: tuple[EnteredStop, ...]
    reasons: Mapping[str, Reason]
    plan: Plan
    marks_us: tuple[int, ...] = field(default=())
    pages: tuple[BookPage, ...] = field(default=())
    edge_us: int = EDGE_US
    later: tuple[tuple[int, int], ...] = ()

    def page(self, shift_date: str) -> BookPage:
        """Return dies and reasons as the plant book had them on a date."""
        if not self.pages:
            return BookPage("", self.dies, self.reasons)
        return self.pages[max(0, bisect_right(self.pages, shift_date, key=lambda page: page.since) - 1)]
