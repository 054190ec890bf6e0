"""Settles plant times that the autumn clock change makes ambiguous by the rows around them.

Rows in the repeated hour are held until the file has been read.  The press counter outranks the clock: where the
clock falls while the counter rises, the second pass begins.  Where the file is in order of time, a fall of the clock
in the file shows the same, for every table.  What the rows cannot settle, or settle two ways, is set aside.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from monitor.intake.batch import Faults, Mask, Whole, shown
from monitor.intake.chunk import Chunk
from monitor.intake.times import ColumnTimes
from shared.durations import DAY_US, HOUR_US
from shared.phrases import phrase
from shared.reasons.rows import TIME_REPEATED
from shared.table import Table

# More strokes than any press makes in a second (common practice, no source): two readings at one wall time
# with more between them are an hour apart.
_MOST_STROKES_A_SECOND = 250
# How far from a repeated hour the rows around it may lie.
_NEAR_US = HOUR_US
# A file is known to be in order of time by at least so many rows whose times are certain.
_ENOUGH_ROWS = 3
_NOTHING = np.array([], dtype=np.int64)


@dataclass
class _Around:
    """The rows around the repeated hours of one press whose times are certain, in file order."""

    us: list[Whole] = field(default_factory=list)
    counters: list[Whole] = field(default_factory=list)

    def rises(self) -> bool:
        """Whether the times rise through the file."""
        return not bool((np.diff(np.concatenate(self.us)) < 0).any()) if self.us else True

    def enough(self) -> bool:
        """Whether there are rows enough to tell."""
        return sum(map(len, self.us)) >= _ENOUGH_ROWS

    def counter_before(self, us: int) -> int | None:
        """The last reading before an instant, where there is one near."""
        return self._nearest(us, -1)

    def counter_after(self, us: int) -> int | None:
        """The first reading after an instant, where there is one near."""
        return self._nearest(us, 1)

    def _nearest(self, us: int, way: int) -> int | None:
        away = (np.concatenate([*self.us, _NOTHING]) - us) * way
        near = np.flatnonzero((away > 0) & (away <= _NEAR_US))
        return int(np.concatenate(self.counters)[near[np.argmin(away[near])]]) if len(near) else None


@dataclass
class HeldRows:
    """Rows held for settling, and the rows around them by column and press."""

    chunks: list[Chunk] = field(default_factory=list)
    around: dict[tuple[str, str], _Around] = field(default_factory=dict)

    def hold(self, chunk: Chunk, table: Table) -> Chunk:
        """Keep back the rows in a repeated hour; the rest goes on."""
        twice = np.zeros(len(chunk.line), dtype=bool)
        for name, times in chunk.times.items():
            if times.twice.any():
                self._look_around(chunk, table, name, times)
                twice |= times.twice & ~times.missing
        twice &= chunk.sound()
        if not twice.any():
            return chunk
        self.chunks.append(chunk.take(twice))
        return rest(chunk, ~twice)

    def _look_around(self, chunk: Chunk, table: Table, name: str, times: ColumnTimes) -> None:
        counters = _counters(chunk, table, name)
        certain = ~(times.missing | times.bad | times.never | times.twice) & chunk.sound()
        if counters is not None:
            hours = times.us[times.twice]
            certain &= (times.us >= hours.min() - _NEAR_US) & (times.us <= hours.max() + 3 * _NEAR_US)
        places = pd.Series(np.flatnonzero(certain))
        for group, part in places.groupby(_groups(chunk)[certain].to_numpy(), sort=False):
            around = self.around.setdefault((name, str(group)), _Around())
            around.us.append(times.us[part.to_numpy()])
            if counters is not None:
                around.counters.append(counters[part.to_numpy()])

    def settle(self, table: Table, zone: str) -> Chunk | None:
        """All rows held, each time settled or a fault held against its row; None where nothing was held."""
        if not self.chunks:
            return None
        held = joined(self.chunks)
        settled = {}
        for name, times in held.times.items():
            settled[name] = self._settle_column(held, table, name, times, zone)
        return Chunk(held.cells, held.line, held.values, settled, held.faults)

    def _settle_column(self, held: Chunk, table: Table, name: str, times: ColumnTimes, zone: str) -> ColumnTimes:
        open_ = times.twice & ~times.missing
        second = np.zeros(len(open_), dtype=bool)
        unsettled = open_.copy()
        counters = _counters(held, table, name)
        for group, places in _hours(held, times, open_):
            around = self.around.get((name, group), _Around())
            us, later_us = times.us[places], times.later_us[places]
            if counters is None:
                passes = _by_file(us) if around.rises() else None
            else:
                passes = _by_counter_or_file(us, later_us, counters[places], around)
            if passes is not None:
                second[places], unsettled[places] = passes, False
        wall = held.cells.column(name)
        held.faults.add(
            unsettled,
            lambda place: phrase(TIME_REPEATED, column=name, seen=shown(wall[place]), zone=zone),
        )
        return times.settled(np.where(second, times.later_us, times.us))


def _counters(held: Chunk, table: Table, name: str) -> Whole | None:
    """The counter readings that belong to the times of a column, where it has such."""
    if table.name != "strokes" or name != "time":
        return None
    counters: Whole = pc.fill_null(held.values["counter"], 0).to_numpy(zero_copy_only=False)
    return counters


def _groups(chunk: Chunk) -> pd.Series:
    """What the order of rows is looked at by: the press, where the table has one."""
    presses = chunk.values.get("press_id")
    if presses is None:
        return pd.Series([""] * len(chunk.line), dtype="str")
    return pd.Series(presses.to_numpy(zero_copy_only=False)).fillna("").astype("str")


def _hours(held: Chunk, times: ColumnTimes, open_: Mask) -> Iterable[tuple[str, Whole]]:
    """The open rows of each group and each repeated hour, in file order."""
    order = np.argsort(times.us)
    hour = np.empty(len(order), dtype=np.int64)
    # Two clock changes lie months apart, so rows more than a day apart are of two repeated hours.
    hour[order] = np.cumsum(np.diff(times.us[order], prepend=times.us[order][:1]) > DAY_US)
    frame = pd.DataFrame({"group": _groups(held), "hour": hour})[open_]
    for (group, _hour), part in frame.groupby(["group", "hour"], sort=False):
        yield str(group), part.index.to_numpy(dtype=np.int64)


def _by_counter_or_file(us: Whole, later_us: Whole, counters: Whole, around: _Around) -> Mask | None:
    """Which readings of one press and repeated hour are of the second pass; None where it does not show.

    Where the counter falls in the file, either the counter was set back or the file is in some other order; the
    readings before and after the hour tell which.
    """
    by_counter = _by_counter(us, counters)
    if not (np.diff(counters) < 0).any():
        return by_counter
    before, after = around.counter_before(int(us.min())), around.counter_after(int(later_us.max()))
    set_back = (before is not None and counters.min() < before) or (after is not None and counters.max() > after)
    if set_back or by_counter is None:
        return _by_file(us) if around.rises() and around.enough() else None
    by_file = _by_file(us)
    surely = before is not None and after is not None
    if by_file is None or surely or (by_file == by_counter).all():
        return by_counter
    return None


def _by_file(us: Whole) -> Mask | None:
    return _after(np.diff(us) < 0)


def _by_counter(us: Whole, counters: Whole) -> Mask | None:
    order = np.argsort(counters, kind="stable")
    us, counters = us[order], counters[order]
    falls = np.diff(us) < 0
    if not falls.any():
        falls = (np.diff(us) == 0) & (np.diff(counters) > _MOST_STROKES_A_SECOND)
    found = _after(falls)
    if found is None:
        return None
    passes = np.empty_like(found)
    passes[order] = found
    return passes


def _after(falls: Mask) -> Mask | None:
    if int(falls.sum()) != 1:
        return None
    passes: Mask = np.concatenate(([False], np.cumsum(falls) > 0))
    return passes


def rest(chunk: Chunk, mask: Mask) -> Chunk:
    """The rows of the mask with their faults, which keep their rows."""
    places = np.cumsum(mask) - 1
    faults = Faults()
    for old, reasons in chunk.faults.reasons.items():
        faults.reasons[int(places[old])] = reasons
    for old, waits in chunk.faults.waits.items():
        faults.waits[int(places[old])] = waits
    rest = chunk.take(mask)
    return Chunk(rest.cells, rest.line, rest.values, rest.times, faults)


def joined(chunks: list[Chunk]) -> Chunk:
    """The rows of several chunks of one file, none of which has a fault."""
    first = chunks[0]
    names = first.cells.schema.names
    cells = pa.concat_batches([chunk.cells for chunk in chunks])
    return Chunk(
        cells.select(names),
        np.concatenate([chunk.line for chunk in chunks]),
        {name: pa.concat_arrays([chunk.values[name] for chunk in chunks]) for name in first.values},
        {
            name: ColumnTimes(
                **{
                    part: np.concatenate([getattr(chunk.times[name], part) for chunk in chunks])
                    for part in ColumnTimes.__dataclass_fields__
                }
            )
            for name in first.times
        },
        Faults(),
    )
