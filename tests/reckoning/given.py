"""Small presses, dies, readings and plans for the reckoning tests; all times in seconds from midnight of one day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np

from monitor.reckoning.fold.day import Folded
from monitor.reckoning.press.carry import Carry, Habits
from monitor.reckoning.press.counters import Counted, Readings
from monitor.reckoning.press.press_day import (
    CoilChange,
    Die,
    DieChange,
    EnteredStop,
    Event,
    Out,
    Plan,
    Press,
    PressDay,
    Reason,
)
from shared.calendar import ShiftWindow

SECOND = 1_000_000
HOUR = 3600
DATE = "1970-01-01"
STOP_AFTER_S = 60

REASONS = {
    "PUN": Reason("tooling", True),
    "COI": Reason("material", True),
    "MTG": Reason("planned", False),
}


def readings(*rows: tuple[int, ...]) -> Readings:
    """Readings (second, counter[, feeds]) of one press, lines numbered from 2."""
    columns = [(t * SECOND, counter, *(feeds or [-1]), 1, line) for line, (t, counter, *feeds) in enumerate(rows, 2)]
    return Readings(*np.array(columns, dtype=np.int64).reshape(-1, 5).T)


def steady(from_s: int, to_s: int, spm: int = 60, every_s: int = 10, start: int = 0) -> list[tuple[int, int]]:
    """Readings of a press that strokes evenly."""
    return [(t, start + (t - from_s) * spm // 60) for t in range(from_s, to_s + 1, every_s)]


def counted(*rows: tuple[int, int]) -> Counted:
    """Intervals from (second, counter) readings that are all true."""
    times, counters = np.array(rows, dtype=np.int64).T
    strokes = np.diff(counters)
    return Counted(times[:-1] * SECOND, times[1:] * SECOND, strokes, np.full(len(strokes), -1))


def die(die_id: str = "D1", stations: int = 1, *outs: Out, pitch_mm: float = 30.0) -> Die:
    """A die with one out of part N1 at its last station unless others are given."""
    return Die(die_id, pitch_mm, 60.0, stations, outs or (Out(1, "N1", stations),))


def set_die(at_s: int, die_id: str = "D1", event: str = "set", **more: object) -> DieChange:
    """A die change at a second."""
    return DieChange(at_s * SECOND, event, die_id, **more)  # type: ignore[arg-type]


def coil(at_s: int, coil_id: str, event: str = "mount", **more: float) -> CoilChange:
    """A coil change at a second."""
    return CoilChange(at_s * SECOND, event, coil_id, **more)


def entered(start_s: int, end_s: int | None, reason: str) -> EnteredStop:
    """A stop that a person entered."""
    return EnteredStop(start_s * SECOND, None if end_s is None else end_s * SECOND, reason)


def window(
    shift: str, start_s: int, end_s: int, *breaks: tuple[int, int], date: str = DATE, closed: bool = False
) -> ShiftWindow:
    """One shift, with its breaks."""
    spans = tuple((start * SECOND, end * SECOND) for start, end in breaks)
    return ShiftWindow(
        dt.date.fromisoformat(date),
        shift,
        start_us=start_s * SECOND,
        end_us=end_s * SECOND,
        breaks=spans,
        closed=closed,
    )


def plan(*windows: ShiftWindow) -> Plan:
    """A plan of two days with these shifts."""
    hours = tuple(h * HOUR * SECOND for h in range(-1, 48))
    return Plan(windows, hours, ((0, DATE), (24 * HOUR * SECOND, "1970-01-02")))


ALL_DAY = plan(window("day", 0, 24 * HOUR))


def press_day(
    rows: Sequence[tuple[int, ...]],
    events: Sequence[Event] = (),
    *,
    dies: Sequence[Die] = (die(),),
    stops: Sequence[EnteredStop] = (),
    on: Plan = ALL_DAY,
    marks_s: Sequence[int] = (),
    ahead: int = 0,
    **press: object,
) -> PressDay:
    """A press-day of press P1, whose stops begin after a minute."""
    told = {"stop_after_us": STOP_AFTER_S * SECOND, "rated_spm": 60.0} | press
    return PressDay(
        press=Press("P1", **told),  # type: ignore[arg-type]
        dies={each.die_id: each for each in dies},
        readings=readings(*rows),
        ahead=ahead,
        events=tuple(events),
        entered=tuple(stops),
        reasons=REASONS,
        plan=on,
        marks_us=tuple(mark * SECOND for mark in marks_s),
    )


def facts(folded: Folded, kind: str) -> list[dict[str, object]]:
    """Facts of one kind as records by column; times stay in microseconds."""
    return [fact._asdict() for fact in folded.facts.by_kind()[kind]]


def total(rows: Sequence[dict[str, object]], column: str) -> int:
    """Sum of an integer column."""
    return sum(int(str(row[column])) for row in rows)


def seconds(folded: Folded) -> dict[str, float]:
    """All time of a fold [s]: planned, running, stopped, extra, unresolved."""
    rows = facts(folded, "time")
    return {
        name: total(rows, f"{name}_us") / SECOND for name in ("planned", "running", "stopped", "extra", "unresolved")
    }


def by_mounting(folded: Folded, kind: str, column: str) -> dict[str, int]:
    """Sum of a column by the coil of the mounting ("" = not known)."""
    sums: dict[str, int] = {}
    for row in facts(folded, kind):
        name = str(row["mounting_id"]).split("@")[0]
        sums[name] = sums.get(name, 0) + int(str(row[column]))
    return sums


#: The state of a press before its first reading; nobody ever enters its first-offs.
NEW = Carry(habits=Habits(first_off=False))
