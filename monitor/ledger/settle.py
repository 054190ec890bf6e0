"""Settling new counter readings against stored ones: repeat, new, correction or contradiction.

Readings of one press at one time form a group.  In almost every group all rows are new, or repeats, or readings that
a fast press gives within one tick of its clock; whole arrays settle these.  Only the groups left over, `odd` here,
are looked at one by one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby, pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.ledger.outcome import conflict
from monitor.ledger.readings import MISSING, Ints, Readings

Bools = npt.NDArray[np.bool_]

Identity = tuple[int, int, int, int]
"""time, counter, feeds, recorded_at"""

History = Callable[[int, int], frozenset[Identity]]
"""Readings superseded earlier, by the time they lie in [from_us, to_us]."""


@dataclass
class Settled:
    """What becomes of stored and new readings: those to add, indices of the stored ones to take out, the counts."""

    accepted: Readings
    replaced: list[int] = field(default_factory=list)
    repeated: int = 0
    corrected: int = 0
    conflicts: list[tuple[int, str]] = field(default_factory=list)


@dataclass(frozen=True)
class Terms:
    """What may stand side by side and what may replace what.

    `burst` is the greatest counter difference of readings at one time; `correcting` the load that may replace rows
    of other loads whatever their `recorded_at`, None where there is none.
    """

    burst: int
    correcting: int | None = None


class _Row(NamedTuple):
    """One reading of an odd group; `place` is its index among all readings, stored ones first."""

    rank: tuple[bool, int]
    line: int
    counter: int
    feeds: int
    recorded_at: int
    load_id: int
    place: int

    @property
    def values(self) -> tuple[int, int]:
        """What the press counted."""
        return self.counter, self.feeds


def settle(stored: Readings, new: Readings, terms: Terms, history: History) -> Settled:
    """Settle new readings of a press against the stored ones; `new` in order of time and counter, so the result."""
    every = Readings.joined([stored, new]) if len(stored.time) else new
    is_new = np.arange(len(every.time)) >= len(stored.time)
    order = _order(every, is_new) if len(stored.time) else np.arange(len(every.time))
    repeats = _repeats(every.at(order)) & is_new[order]
    kept = order[~repeats]
    odd_times = every.time[kept[_odd(every.at(kept), is_new[kept], terms)]]
    in_odd = np.isin(every.time[order], odd_times) if len(odd_times) else np.zeros(len(order), np.bool_)
    settled = Settled(new, repeated=int((repeats & ~in_odd).sum()))
    taken = np.zeros(len(every.time), np.bool_)
    taken[order] = is_new[order] & ~repeats & ~in_odd
    taken[_settle_odd(every, order[in_odd], len(stored.time), terms, history, settled)] = True
    if int(taken.sum()) < len(new.time):
        settled.accepted = every.at(order[taken[order]])
    return settled


def _order(every: Readings, is_new: Bools) -> Ints:
    return np.lexsort((is_new, every.feeds, every.counter, every.time))


def _repeats(ordered: Readings) -> Bools:
    repeats = np.zeros(len(ordered.time), np.bool_)
    columns = (ordered.time, ordered.counter, ordered.feeds)
    np.logical_and.reduce([column[1:] == column[:-1] for column in columns], out=repeats[1:])
    return repeats


def _odd(kept: Readings, is_new: Bools, terms: Terms) -> Bools:
    """Mark the rows of groups that hold a new row and are not simply readings side by side."""
    size = len(kept.time)
    starts = np.flatnonzero(np.concatenate([[True], kept.time[1:] != kept.time[:-1]])) if size else np.empty(0, int)
    ends = np.append(starts[1:], size) - 1
    shared = (ends > starts) & np.logical_or.reduceat(is_new, starts) if size else np.empty(0, np.bool_)
    if not shared.any():
        return np.zeros(size, np.bool_)
    same_counter = np.zeros(size, np.bool_)
    same_counter[1:] = (kept.counter[1:] == kept.counter[:-1]) & (kept.time[1:] == kept.time[:-1])
    rank = kept.recorded_at
    odd = kept.counter[ends] - kept.counter[starts] > terms.burst
    odd |= np.logical_or.reduceat(same_counter, starts)
    odd |= np.minimum.reduceat(rank, starts) != np.maximum.reduceat(rank, starts)
    if terms.correcting is not None:
        odd |= np.logical_or.reduceat(~is_new & (kept.load_id != terms.correcting), starts)
    return np.repeat(odd & shared, ends - starts + 1)


def _settle_odd(
    every: Readings, places: Ints, stored_size: int, terms: Terms, history: History, settled: Settled
) -> Ints:
    """Settle the rows of odd groups one by one; returns the places of the new rows that are taken."""
    if not len(places):
        return places
    times = every.time[places]
    superseded = set(history(int(times[0]), int(times[-1])))
    chosen: list[int] = []
    for group in _groups(every, places, stored_size, terms):
        time = int(every.time[group[0].place])
        chosen += _settle_group(time, group, stored_size, terms, superseded, settled)
    return np.array(chosen, dtype=np.int64)


def _groups(every: Readings, places: Ints, stored_size: int, terms: Terms) -> Iterator[list[_Row]]:
    times = every.time[places]
    bounds = np.flatnonzero(np.concatenate([[True], times[1:] != times[:-1], [True]])).tolist()
    wanted = every.at(places)
    columns = (wanted.line, wanted.counter, wanted.feeds, wanted.recorded_at, wanted.load_id, places)
    for low, high in pairwise(bounds):
        rows = zip(*(column[low:high].tolist() for column in columns), strict=True)
        yield [_Row((_outranks(row, stored_size, terms), row[3]), *row) for row in rows]


def _outranks(row: Sequence[int], stored_size: int, terms: Terms) -> bool:
    load_id, place = row[4], row[5]
    return terms.correcting is not None and (place >= stored_size or load_id == terms.correcting)


def _settle_group(
    time: int,
    group: list[_Row],
    stored_size: int,
    terms: Terms,
    superseded: set[Identity],
    settled: Settled,
) -> list[int]:
    current = [row for row in group if row.place < stored_size]
    incoming = sorted(row for row in group if row.place >= stored_size)
    for rank, same_rank in groupby(incoming, key=lambda row: row.rank):
        level = list(same_rank)
        known = {row.values for row in current}
        fresh = [row for row in level if row.values not in known]
        if terms.correcting is None:
            fresh = [row for row in fresh if (time, *row.values, row.recorded_at) not in superseded]
        settled.repeated += len(level) - len(fresh)
        dropped = 0
        if fresh and current and rank > max(row.rank for row in current):
            superseded |= {(time, *row.values, row.recorded_at) for row in current}
            settled.replaced += [row.place for row in current if row.place < stored_size]
            current = list({row.values: row for row in level if row.values in known}.values())
            dropped = len(known) - len(current)
        _stand_side_by_side(fresh, current, dropped, terms.burst, settled)
    return [row.place for row in current if row.place >= stored_size]


def _stand_side_by_side(fresh: list[_Row], current: list[_Row], dropped: int, burst: int, settled: Settled) -> None:
    """Take what can be true beside `current`; as many rows as were dropped for them count as corrected."""
    for row in fresh:
        if any(row.values == other.values for other in current):
            settled.repeated += 1
        elif all(_fits(row, other, burst) for other in current):
            current.append(row)
            settled.corrected += dropped > 0
            dropped -= 1
        else:
            settled.conflicts.append((row.line, _reason(row, current[-1])))


def _fits(row: _Row, other: _Row, burst: int) -> bool:
    return row.rank == other.rank and 0 < abs(row.counter - other.counter) <= burst


def _reason(row: _Row, stored: _Row) -> str:
    differences: dict[str, tuple[object, object]] = {}
    for name, seen, other in zip(("counter", "feeds"), row.values, stored.values, strict=True):
        if seen != other:
            differences[name] = (_known(seen), _known(other))
    return conflict(differences, stored.load_id, stored.line)


def _known(value: int) -> int | None:
    return None if value == MISSING else value
