"""Counter clocks compared with the notes about each press, and clocks that jump within a file."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import astuple, dataclass, field, replace
from typing import Any, Protocol

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from monitor.ledger import Snapshot, Writer
from monitor.plant.carries import newest_readings
from monitor.plant.records import records
from monitor.reckoning.clocks.jumps import jumps
from monitor.reckoning.clocks.offset import FEWEST, Lag, lags, newest
from shared.durations import DAY_US, HOUR_US
from shared.errors import DamagedPart

#: Name of the remark under which a ledger keeps what was found.
REMARK = "clocks"

#: Notes of so many days before the newest reading are held against it (common practice, no source).
_DAYS_US = 21 * DAY_US
_MOST_JUMPS = 20

#: What is noted while a press stands.
_STANDING = {"coil_changes": ("mount", "cut"), "die_changes": ("set", "pull")}


@dataclass(frozen=True)
class FileJump:
    """A clock that jumps within a file: before which line, from and to where [us], by how much [us, < 0 = back]."""

    file: str
    line: int
    from_us: int
    to_us: int
    by_us: int


@dataclass(frozen=True)
class Clock:
    """What was found of the clock of one press: up to which reading it was looked at [us], offsets and jumps."""

    until_us: int = 0
    lags: tuple[Lag, ...] = ()
    jumps: tuple[FileJump, ...] = ()


class Remarks(Protocol):
    """Whatever hands out the remarks kept with a ledger."""

    def noted(self, name: str) -> str:
        """A remark, empty where there is none."""


def found(remarks: Remarks) -> dict[str, Clock]:
    """What loads have found of the clock of each press."""
    text = remarks.noted(REMARK)
    return {press_id: _clock(told) for press_id, told in json.loads(text).items()} if text else {}


def lags_of(snapshot: Snapshot, press_id: str, until_us: int) -> tuple[Lag, ...]:
    """Return offsets of the counter's clock of a press from the notes about it, up to a reading [us]."""
    return _lags(snapshot, press_id, until_us, _noted(snapshot, press_id, until_us - _DAYS_US).get(press_id, []))


def _lags(snapshot: Snapshot, press_id: str, until_us: int, told: Sequence[tuple[int, ...]]) -> tuple[Lag, ...]:
    noted = newest([moments for moments in told if until_us - _DAYS_US <= moments[0] and moments[-1] <= until_us])
    if len(noted) < FEWEST:
        return ()
    try:
        readings = snapshot.strokes(press_id, noted[0][0] - 3 * HOUR_US, until_us + 1)
    except DamagedPart:  # A check names it.
        return ()
    time_us = readings.column("time").cast(pa.int64()).to_numpy()
    return tuple(lags(noted, time_us, readings.column("counter").to_numpy()))


def _noted(snapshot: Snapshot, press_id: str | None, since_us: int) -> dict[str, list[tuple[int, ...]]]:
    """Return moments at which presses, or the one named, stood still by the notes since a moment [us]."""
    told: dict[str, list[tuple[int, ...]]] = defaultdict(list)
    for table, events in _STANDING.items():
        for row in records(snapshot.rows(table, press_id, since_us)):
            if row["event"] in events:
                told[row["press_id"]].append((row["time"],))
    for row in records(snapshot.rows("stops", press_id, since_us)):
        told[row["press_id"]].append(tuple(us for us in (row["start_at"], row["end_at"]) if us is not None))
    return told


def jumps_in(rows: pa.Table, file: str, presses: Collection[str]) -> dict[str, list[FileJump]]:
    """Return jumps of clocks within the counter readings of a file; where time falls they are looked for closely.

    A jump ahead is looked for where the rows are of one press alone, as files of loggers are.
    """
    time_us = rows.column("time").cast(pa.int64()).to_numpy()
    if len(presses) > 1 and not (time_us[1:] < time_us[:-1]).any():
        return {}
    told = {}
    for name in presses:
        own = rows.filter(pc.equal(rows.column("press_id"), name))
        lines = own.column("line").to_numpy()
        order = slice(None) if (lines[1:] >= lines[:-1]).all() else np.argsort(lines, kind="stable")
        seen = jumps(own.column("time").cast(pa.int64()).to_numpy()[order], own.column("counter").to_numpy()[order])
        if seen:
            lines = lines[order]
            told[name] = [FileJump(file, int(lines[one.place]), one.from_us, one.to_us, one.by_us) for one in seen]
    return told


@dataclass
class ClockCheck:
    """What one load finds of clocks: jumps noted while its files are read, offsets looked for at its end."""

    jumps: dict[str, list[FileJump]] = field(default_factory=lambda: defaultdict(list))

    def copy(self) -> ClockCheck:
        """Return what has been found so far, to go back to."""
        return ClockCheck(defaultdict(list, {press_id: list(seen) for press_id, seen in self.jumps.items()}))

    def read(self, rows: pa.Table, file: str, presses: Collection[str]) -> None:
        """Note the clocks of presses that jump within rows of a file."""
        for press_id, seen in jumps_in(rows, file, presses).items():
            self.jumps[press_id] += seen

    def finish(self, writer: Writer, noted: set[str], presses: set[str]) -> dict[str, Clock]:
        """Look at the clocks of presses with new notes, of the others once an hour; returns what is new, by press."""
        before, now = found(writer), found(writer)
        last = {press_id: us for press_id, us in newest_readings(writer).items() if press_id in presses}
        due = {name: us for name, us in last.items() if name in noted or _is_due(now.get(name, Clock()), us)}
        told = _noted(writer, next(iter(due)) if len(due) == 1 else None, min(due.values()) - _DAYS_US) if due else {}
        for press_id, until_us in due.items():
            seen = _lags(writer, press_id, until_us, told.get(press_id, []))
            now[press_id] = replace(now.get(press_id, Clock()), until_us=until_us, lags=seen)
        for press_id, jumped in self.jumps.items():
            clock = now.get(press_id, Clock())
            now[press_id] = replace(clock, jumps=tuple(dict.fromkeys((*clock.jumps, *jumped)))[-_MOST_JUMPS:])
        if now != before:
            writer.put_note(REMARK, json.dumps({press_id: _plain(clock) for press_id, clock in sorted(now.items())}))
        return {press_id: _news(clock, before.get(press_id, Clock())) for press_id, clock in now.items()}


def _is_due(clock: Clock, newest_us: int) -> bool:
    return not clock.until_us <= newest_us < clock.until_us + HOUR_US


def _news(now: Clock, before: Clock) -> Clock:
    """Return the offsets and jumps of a clock that were not known before."""
    known = [(old.low_us, old.high_us) for old in before.lags]
    new = (one for one in now.lags if not any(one.low_us <= high and low <= one.high_us for low, high in known))
    return replace(now, lags=tuple(new), jumps=tuple(jump for jump in now.jumps if jump not in before.jumps))


def _plain(clock: Clock) -> tuple[object, ...]:
    return clock.until_us, [astuple(lag) for lag in clock.lags], [astuple(jump) for jump in clock.jumps]


def _clock(told: Sequence[Any]) -> Clock:
    until_us, held, jumped = told
    lags = tuple(Lag(**dict(zip(Lag.__dataclass_fields__, one, strict=True))) for one in held)
    return Clock(until_us, lags, tuple(FileJump(*one) for one in jumped))
