"""What one fold hands to the next: a small, complete state of the press, kept as JSON."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field

from pydantic import TypeAdapter

from monitor.reckoning.press.counters import Reading
from monitor.reckoning.press.running import Idle
from monitor.reckoning.press.strip import Strip


@dataclass(frozen=True)
class Label:
    """Where a stretch of time belongs: shift, clock hour, die, part, order, and whether the die is being set."""

    shift_date: str
    shift: str
    hour_us: int
    die_id: str
    part_no: str
    order_id: str
    setup: bool


@dataclass(frozen=True)
class Pending:
    """A stretch of standing [us] too short so far to be called a stop or running."""

    label: Label
    planned: bool
    from_us: int
    to_us: int


@dataclass(frozen=True)
class DieInPress:
    """The die that is set: since when, for which part and order, which outs run, and whether it is still being set."""

    die_id: str
    set_us: int
    part_no: str
    order_id: str
    outs_running: tuple[int, ...]
    setup: bool


@dataclass(frozen=True)
class DieLeft:
    """The die that was in the press before, and whether its pull has been noted."""

    die_id: str
    is_pulled: bool


@dataclass(frozen=True)
class Habits:
    """What is entered for a press: whether first-offs ever are, and whether strip lay in it before the first change.

    Where nobody enters a first-off no stroke is a setting stroke.  Strip is taken to have lain in the die when the
    first coil change ever noted is not a mounting.
    """

    first_off: bool = True
    strip_before: bool = False


@dataclass(frozen=True)
class Carry:
    """The state of a press after its last accepted reading; `idle_die` was in it when it last fell idle.

    `first_off_early` is the first-off of a die [and us] that was not in the press when it was noted.
    """

    last: Reading | None = None
    strokes: int = 0
    strip: Strip = field(default_factory=Strip)
    die: DieInPress | None = None
    idle: Idle | None = None
    idle_die: str = ""
    pending: tuple[Pending, ...] = ()
    stood: tuple[tuple[int, int], ...] = ()
    coils: Mapping[str, str] = field(default_factory=dict)
    habits: Habits = Habits()
    left: DieLeft | None = None
    first_off_early: tuple[str, int] | None = None


_ADAPTER: TypeAdapter[Carry] = TypeAdapter(Carry)


def to_json(carry: Carry) -> str:
    """Write a carry as text; equal carries give equal text."""
    return json.dumps(_ADAPTER.dump_python(carry, mode="json"), sort_keys=True, separators=(",", ":"))


def from_json(text: str) -> Carry:
    """Read a carry back from its text."""
    return _ADAPTER.validate_json(text)
