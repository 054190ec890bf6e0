"""Settles plant times that the autumn clock change makes ambiguous by the rows around them.

Rows in the repeated hour are held until the file has been read.  The press counter outranks the clock: where the
clock falls while the counter rises, the second pass begins.  Other tables are settled by the order of the file,
where that is the order of time.  What the rows cannot settle is set aside.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
import pyarrow as pa

from monitor.intake.batch import Faults, Mask, Whole
from monitor.intake.chunk import Chunk
from monitor.intake.times import Times
from shared.table import Table

# More strokes than any press makes in a second (common practice, no source): two readings at one wall time
# with more between them are an hour apart.
_MOST_STROKES_A_SECOND = 250
_DAY_US = 86_400_000_000


@dataclass
class Held:
    """Rows held for settling, and the groups of rows that turned out not to lie in order of time."""

    chunks: list[Chunk] = field(default_factory=list)
    disordered: set[tuple[str, str]] = field(default_factory=set)
    _last_us: dict[tuple[str, str], int] = field(default_factory=dict)

    def hold(self, chunk: Chunk, table: Table) -> Chunk:
        """Keep back the rows in a repeated hour; the rest goes on."""
        twice = np.zeros(len(chunk.line), dtype=bool)
        for name, times in chunk.times.items():
            if times.plant.any() and not _by_counter(table, name):
                self._follow(name, times, _groups(chunk))
            twice |= times.twice & ~times.missing
        if not twice.any():
            return chunk
        twice &= chunk.sound()
        self.chunks.append(chunk.take(twice))
        return _rest(chunk, ~twice)

    def _follow(self, name: str, times: Times, groups: pd.Series) -> None:
        """Note the groups whose certain times do not rise."""
        certain = ~(times.missing | times.bad | times.never | times.twice)
        frame = pd.DataFrame({"group": groups[certain], "us": times.us[certain]})
        for group, us in frame.groupby("group", sort=False)["us"]:
            key = (name, str(group))
            before = self._last_us.get(key, int(us.iloc[0]))
            if us.iloc[0] < before or not us.is_monotonic_increasing:
                self.disordered.add(key)
            self._last_us[key] = max(before, int(us.iloc[-1]))

    def settle(self, table: Table, zone: str) -> Chunk | None:
        """All rows held, each time settled or a fault held against its row; None where nothing was held."""
        if not self.chunks:
            return None
        held = _joined(self.chunks)
        settled = {}
        for name, times in held.times.items():
            settled[name] = self._settle_column(held, table, name, times, zone)
        return Chunk(held.cells, held.line, held.values, settled, held.faults)

    def _settle_column(self, held: Chunk, table: Table, name: str, times: Times, zone: str) -> Times:
        open_ = times.twice & ~times.missing
        second = np.zeros(len(open_), dtype=bool)
        unsettled = open_.copy()
        for group, places in _hours(held, times, open_):
            if _by_counter(table, name):
                counters = held.values["counter"].to_numpy(zero_copy_only=False)[places]
                passes = _second_pass_by_counter(times.us[places], counters)
            else:
                passes = None if (name, group) in self.disordered else _second_pass_in_order(times.us[places])
            if passes is not None:
                second[places], unsettled[places] = passes, False
        wall = held.cells.column(name)
        held.faults.add(
            unsettled,
            lambda place: (
                f"{name} is {str(wall[place].as_py())!r}, which happened twice in {zone}, and the rows around it "
                "do not show which is meant; expected a time with its offset"
            ),
        )
        return times.settled(np.where(second, times.later_us, times.us))


def _by_counter(table: Table, name: str) -> bool:
    return table.name == "strokes" and name == "time"


def _groups(chunk: Chunk) -> pd.Series:
    """What the order of rows is looked at by: the press, where the table has one."""
    presses = chunk.values.get("press_id")
    if presses is None:
        return pd.Series([""] * len(chunk.line), dtype="str")
    return pd.Series(presses.to_numpy(zero_copy_only=False)).fillna("").astype("str")


def _hours(held: Chunk, times: Times, open_: Mask) -> Iterable[tuple[str, Whole]]:
    """The open rows of each group and each repeated hour, in file order."""
    order = np.argsort(times.us)
    hour = np.empty(len(order), dtype=np.int64)
    # Two clock changes lie months apart, so rows more than a day apart are of two repeated hours.
    hour[order] = np.cumsum(np.diff(times.us[order], prepend=times.us[order][:1]) > _DAY_US)
    frame = pd.DataFrame({"group": _groups(held), "hour": hour})[open_]
    for (group, _hour), part in frame.groupby(["group", "hour"], sort=False):
        yield str(group), part.index.to_numpy(dtype=np.int64)


def _second_pass_by_counter(us: Whole, counters: Whole) -> Mask | None:
    """Which readings of one press and repeated hour are of the second pass; None where it does not show."""
    if int((np.diff(counters) < 0).sum()) <= 1 and (found := _after_the_fall(us, counters)) is not None:
        return found
    order = np.argsort(counters, kind="stable")
    found = _after_the_fall(us[order], counters[order])
    if found is None:
        return None
    passes = np.empty_like(found)
    passes[order] = found
    return passes


def _after_the_fall(us: Whole, counters: Whole) -> Mask | None:
    falls = np.diff(us) < 0
    if not falls.any():
        falls = (np.diff(us) == 0) & (np.diff(counters) > _MOST_STROKES_A_SECOND)
    return _after(falls)


def _second_pass_in_order(us: Whole) -> Mask | None:
    return _after(np.diff(us) < 0)


def _after(falls: Mask) -> Mask | None:
    if int(falls.sum()) != 1:
        return None
    passes: Mask = np.concatenate(([False], np.cumsum(falls) > 0))
    return passes


def _rest(chunk: Chunk, mask: Mask) -> Chunk:
    """The rows of the mask with their faults, which keep their rows."""
    places = np.cumsum(mask) - 1
    faults = Faults()
    for old, reasons in chunk.faults.reasons.items():
        faults.reasons[int(places[old])] = reasons
    for old, waits in chunk.faults.waits.items():
        faults.waits[int(places[old])] = waits
    rest = chunk.take(mask)
    return Chunk(rest.cells, rest.line, rest.values, rest.times, faults)


def _joined(chunks: list[Chunk]) -> Chunk:
    first = chunks[0]
    names = first.cells.schema.names
    cells = pa.concat_batches([chunk.cells for chunk in chunks])
    return Chunk(
        cells.select(names),
        np.concatenate([chunk.line for chunk in chunks]),
        {name: pa.concat_arrays([chunk.values[name] for chunk in chunks]) for name in first.values},
        {
            name: Times(
                *(
                    np.concatenate([getattr(chunk.times[name], part) for chunk in chunks])
                    for part in Times.__dataclass_fields__
                )
            )
            for name in first.times
        },
        Faults(),
    )
