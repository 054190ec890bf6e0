"""The additive facts a fold leaves behind; every figure is a sum over them.

A fold reckons one press over one plant day.  Its facts carry their own shift date, shift and hour, so a stroke that
was made before the day began, but read after, stands in the day it was made.  Times are integer microseconds since
1970 UTC (`_us`); durations in microseconds close exactly where seconds in floating point would not.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class FactKind(Enum):
    """How a fact column is stored."""

    TEXT = "text"
    INTEGER = "integer"
    REAL = "real"


@dataclass(frozen=True)
class FactTable:
    """One kind of fact: its name, what one row is, and its columns in order."""

    name: str
    row_per: str
    columns: tuple[tuple[str, FactKind], ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Column names in order."""
        return tuple(name for name, _ in self.columns)


#: Number of the rules by which rows become facts.  Whoever changes what a fold or a booking leaves raises it: a ledger
#: that was reckoned by other rules is then reckoned anew as a whole, when it is opened.  2: December 2026.
RECKONING = 2

_T, _I, _R = FactKind.TEXT, FactKind.INTEGER, FactKind.REAL

_WHERE = (("press_id", _T), ("day", _T))
_WHEN = (("shift_date", _T), ("shift", _T), ("hour_us", _I))
_WHAT = (("die_id", _T), ("part_no", _T), ("order_id", _T), ("setup", _I))

TIME = FactTable(
    "time",
    "press, clock hour, shift, die, part, setting or running",
    (
        *_WHERE,
        *_WHEN,
        *_WHAT,
        ("planned_us", _I),
        ("running_us", _I),
        ("stopped_us", _I),
        ("extra_us", _I),
        ("unresolved_us", _I),
        ("untimed", _I),
    ),
)

STROKES = FactTable(
    "strokes",
    "stretch of strokes between two boundaries (hour, shift, coil, die)",
    (
        *_WHERE,
        *_WHEN,
        *_WHAT,
        ("mounting_id", _T),
        ("strokes", _I),
        ("fed", _I),
        ("stroke_from", _I),
        ("from_us", _I),
        ("to_us", _I),
    ),
)

PIECES = FactTable(
    "pieces",
    "stretch of finished pieces of one out from one mounting of a coil",
    (
        *_WHERE,
        *_WHEN,
        *_WHAT,
        ("out", _I),
        ("mounting_id", _T),
        ("pieces", _I),
        ("stroke_from", _I),
        ("stroke_to", _I),
        ("entry_from", _I),
        ("from_us", _I),
        ("to_us", _I),
    ),
)

STOPS = FactTable(
    "stops",
    "stretch of one stop in one shift with one reason",
    (
        *_WHERE,
        ("stop_id", _T),
        ("die_id", _T),
        ("shift_date", _T),
        ("shift", _T),
        ("from_us", _I),
        ("to_us", _I),
        ("reason", _T),
        ("kind", _T),
        ("planned", _I),
    ),
)

UNRESOLVED = FactTable(
    "unresolved",
    "stretch between readings in one shift and die in which nobody saw whether the press ran or stood",
    (
        *_WHERE,
        ("die_id", _T),
        ("shift_date", _T),
        ("shift", _T),
        ("from_us", _I),
        ("to_us", _I),
        ("planned", _I),
    ),
)

MOUNTS = FactTable(
    "mounts",
    "mounting of a coil, die and day: strip that went in and strip that came out finished",
    (
        *_WHERE,
        ("mounting_id", _T),
        ("coil_id", _T),
        ("die_id", _T),
        ("mounted_us", _I),
        ("removed_us", _I),
        ("start_weighed_kg", _R),
        ("end_weighed_kg", _R),
        ("pitch_mm", _R),
        ("fed", _I),
        ("finished", _I),
        ("lost_mm", _R),
    ),
)

REJECTS = FactTable(
    "rejects",
    "share of one inspection and cause that falls on one stretch of pieces",
    (
        *_WHERE,
        ("inspection_id", _T),
        ("kind", _T),
        ("cause", _T),
        *_WHEN,
        ("die_id", _T),
        ("part_no", _T),
        ("out", _I),
        ("mounting_id", _T),
        ("setup", _I),
        ("inspected", _I),
        ("rejected", _I),
        ("reworked", _I),
        ("released", _I),
        ("spread", _I),
        ("stroke_from", _I),
        ("from_us", _I),
        ("to_us", _I),
    ),
)

GLITCHES = FactTable(
    "glitches",
    "counter reading that cannot be true",
    (*_WHERE, ("load_id", _I), ("line", _I), ("time_us", _I), ("counter", _I), ("reason", _T)),
)

FACTS: dict[str, FactTable] = {
    fact.name: fact for fact in (TIME, STROKES, PIECES, STOPS, UNRESOLVED, MOUNTS, REJECTS, GLITCHES)
}
