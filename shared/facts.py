"""The additive facts a fold leaves behind; every figure is a sum over them.

A fold reckons one press over one plant day.  Its facts carry their own shift date, shift and hour, so a stroke that
was made before the day began, but read after, stands in the day it was made.  Times are integer microseconds since
1970 UTC (`_us`); durations in microseconds close exactly where seconds in floating point would not.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from functools import cached_property
from typing import NamedTuple, TypeAlias, get_type_hints

#: Number of the rules by which rows become facts.  Whoever changes what a fold or a booking leaves raises it: a ledger
#: that was reckoned by other rules is then reckoned anew as a whole, when it is opened.  2: December 2026.
RECKONING = 2


class FactKind(Enum):
    """How a fact column is stored."""

    TEXT = "text"
    INTEGER = "integer"
    REAL = "real"


class TimeFact(NamedTuple):
    """Time of one clock hour, shift, die, part and order [us], setting and running apart; `untimed` counts strokes."""

    shift_date: str
    shift: str
    hour_us: int
    die_id: str
    part_no: str
    order_id: str
    setup: int
    planned_us: int = 0
    running_us: int = 0
    stopped_us: int = 0
    extra_us: int = 0
    unresolved_us: int = 0
    untimed: int = 0


class StrokeFact(NamedTuple):
    """A stretch of strokes, `fed` of them with strip, the first of them the press's stroke number `stroke_from`."""

    shift_date: str
    shift: str
    hour_us: int
    die_id: str
    part_no: str
    order_id: str
    setup: int
    mounting_id: str
    strokes: int
    fed: int
    stroke_from: int
    from_us: int
    to_us: int


class PieceFact(NamedTuple):
    """A stretch of finished pieces, parted off at strokes [stroke_from, stroke_to); `entry_from` is along the coil."""

    shift_date: str
    shift: str
    hour_us: int
    die_id: str
    part_no: str
    order_id: str
    setup: int
    out: int
    mounting_id: str
    pieces: int
    stroke_from: int
    stroke_to: int
    entry_from: int
    from_us: int
    to_us: int


class StopFact(NamedTuple):
    """A stretch of one stop in one shift with one reason; `planned` is 1 where it does not count in planned time."""

    stop_id: str
    die_id: str
    shift_date: str
    shift: str
    from_us: int
    to_us: int
    reason: str
    kind: str
    planned: int


class UnresolvedFact(NamedTuple):
    """A stretch in which nobody saw whether the press ran or stood; `planned` is 1 where it counts in planned time."""

    die_id: str
    shift_date: str
    shift: str
    from_us: int
    to_us: int
    planned: int


class MountFact(NamedTuple):
    """What one change, or one day's strokes in one die, say of a mounting of a coil; what they do not say is None."""

    mounting_id: str
    coil_id: str
    die_id: str
    mounted_us: int | None = None
    removed_us: int | None = None
    start_weighed_kg: float | None = None
    end_weighed_kg: float | None = None
    pitch_mm: float | None = None
    fed: int = 0
    finished: int = 0
    lost_mm: float = 0.0


class RejectFact(NamedTuple):
    """The share of one inspection and cause ("" is the look itself) that falls on one stretch of pieces."""

    inspection_id: str
    kind: str
    cause: str
    shift_date: str
    shift: str
    hour_us: int
    die_id: str
    part_no: str
    out: int
    mounting_id: str
    setup: int
    inspected: int
    rejected: int
    reworked: int
    released: int
    spread: int
    stroke_from: int
    from_us: int
    to_us: int


class GlitchFact(NamedTuple):
    """A counter reading that cannot be true."""

    load_id: int
    line: int
    time_us: int
    counter: int
    code: str
    code_values: str


Fact: TypeAlias = TimeFact | StrokeFact | PieceFact | StopFact | UnresolvedFact | MountFact | RejectFact | GlitchFact

_KINDS = {
    str: FactKind.TEXT,
    int: FactKind.INTEGER,
    float: FactKind.REAL,
    int | None: FactKind.INTEGER,
    float | None: FactKind.REAL,
}
_WHERE = (("press_id", FactKind.TEXT), ("day", FactKind.TEXT))


@dataclass(frozen=True)
class FactTable:
    """One kind of fact: its name, what one row is, and the record that holds what a fold says of a press and day."""

    name: str
    row_per: str
    record: type[Fact]

    @cached_property
    def columns(self) -> tuple[tuple[str, FactKind], ...]:
        """Columns in order, with how each is stored: press, day of the fold, and the fields of the record."""
        return (*_WHERE, *((name, _KINDS[kind]) for name, kind in get_type_hints(self.record).items()))

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Column names in order."""
        return tuple(name for name, _ in self.columns)


FACTS: dict[str, FactTable] = {
    fact.name: fact
    for fact in (
        FactTable("time", "press, clock hour, shift, die, part, setting or running", TimeFact),
        FactTable("strokes", "stretch of strokes between two boundaries (hour, shift, coil, die)", StrokeFact),
        FactTable("pieces", "stretch of finished pieces of one out from one mounting of a coil", PieceFact),
        FactTable("stops", "stretch of one stop in one shift with one reason", StopFact),
        FactTable(
            "unresolved",
            "stretch between readings in one shift and die in which nobody saw whether the press ran or stood",
            UnresolvedFact,
        ),
        FactTable(
            "mounts", "mounting of a coil, die and day: strip that went in and strip that came out finished", MountFact
        ),
        FactTable("rejects", "share of one inspection and cause that falls on one stretch of pieces", RejectFact),
        FactTable("glitches", "counter reading that cannot be true", GlitchFact),
    )
}


@dataclass(frozen=True)
class FoldFacts:
    """The facts that a fold of one press and plant day leaves, by kind; rejects are booked apart from it."""

    time: list[TimeFact] = field(default_factory=list)
    strokes: list[StrokeFact] = field(default_factory=list)
    pieces: list[PieceFact] = field(default_factory=list)
    stops: list[StopFact] = field(default_factory=list)
    unresolved: list[UnresolvedFact] = field(default_factory=list)
    mounts: list[MountFact] = field(default_factory=list)
    glitches: list[GlitchFact] = field(default_factory=list)

    def add(self, more: FoldFacts) -> None:
        """Add the facts of another part of the same day."""
        for kind, facts in more.by_kind().items():
            self.by_kind()[kind].extend(facts)

    def by_kind(self) -> dict[str, list[Fact]]:
        """Return the lists by the names of their tables."""
        return vars(self)
