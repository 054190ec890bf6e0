"""Settling new counter readings against stored ones: repeat, new, correction or contradiction.

Readings of one press at one time form a group.  In almost every group all rows are new, or repeats, or readings that
a fast press gives within one tick of its clock; whole arrays settle these.  Only the groups left over, `odd` here,
are looked at one by one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from monitor.ledger.bulk.readings import MISSING, Ints, StoredReadings
from monitor.ledger.merge.accounts import NEVER, NEW, REPEATED, Delivery, DeliveryAccount, settle_key
from monitor.ledger.merge.deliveries import Deliveries
from monitor.ledger.merge.outcome import Recounted
from monitor.ledger.merge.resolve import add_recounted, reason
from shared.phrases import Phrase
from shared.tables import TABLES

Bools = npt.NDArray[np.bool_]

Identity = tuple[int, int, int, int]
"""time, counter, feeds, recorded_at"""

History = Callable[[int, int], frozenset[Identity]]
"""Readings superseded before the ledger kept their deliveries, by the time they lie in [from_us, to_us]."""

_TABLE = TABLES["strokes"]


@dataclass
class Settled:
    """What becomes of stored and new readings: those to add, indices of the stored ones to take out, the counts.

    `kept` are, by time, the deliveries that do not hold.
    """

    accepted: StoredReadings
    replaced: list[int] = field(default_factory=list)
    repeated: int = 0
    corrected: int = 0
    conflicts: list[tuple[int, Phrase]] = field(default_factory=list)
    again: list[int] = field(default_factory=list)
    earlier: Recounted = field(default_factory=Recounted)
    kept: dict[int, list[tuple[Delivery, bool]]] = field(default_factory=dict)


@dataclass(frozen=True)
class Terms:
    """What may stand side by side: `burst` is the greatest counter difference of readings of a press at one time.

    `kept` are, by time, earlier deliveries that do not hold.
    """

    press_id: str
    burst: int
    deliveries: Deliveries
    kept: Mapping[int, Sequence[Delivery]] = field(default_factory=dict)

    def fits(self, one: Delivery, other: Delivery) -> bool:
        """Whether two readings of one time can both be true."""
        counters = [int(row.values[_TABLE.columns.index("counter")] or 0) for row in (one, other)]
        return 0 < abs(counters[0] - counters[1]) <= self.burst


def settle(stored: StoredReadings, new: StoredReadings, terms: Terms, history: History) -> Settled:
    """Settle new readings of a press against the stored ones; `new` in order of time and counter, so the result."""
    every = StoredReadings.joined([stored, new]) if len(stored.time) else new
    is_new = np.arange(len(every.time)) >= len(stored.time)
    order = _order(every, is_new) if len(stored.time) else np.arange(len(every.time))
    given_at = _given_at(every, terms.deliveries)
    ordered = every.at(order)
    came = is_new[order]
    repeats = _repeats(ordered, _taken(given_at, order)) & came
    odd = _odd(ordered.at(~repeats), came[~repeats], _taken(_taken(given_at, order), ~repeats), terms)
    told = np.array(sorted(terms.kept), dtype=np.int64)
    odd_times = np.concatenate([ordered.time[~repeats][odd], told])
    in_odd = np.isin(ordered.time, odd_times) if len(odd_times) else np.zeros(len(order), np.bool_)
    over = _takes_over(ordered, came, repeats, terms.deliveries) & ~in_odd
    settled = Settled(new, repeated=int((repeats & ~in_odd & ~over).sum()))
    taken = np.zeros(len(every.time), np.bool_)
    taken[order] = ((came & ~repeats) | over) & ~in_odd
    _give_way(every, order[np.flatnonzero(over) - 1], settled)
    taken[
        _settle_odd(every, order[in_odd], stored_size=len(stored.time), terms=terms, history=history, settled=settled)
    ] = True
    if int(taken.sum()) < len(new.time):
        settled.accepted = every.at(order[taken[order]])
    return settled


def _order(every: StoredReadings, is_new: Bools) -> Ints:
    return np.lexsort((is_new, every.feeds, every.counter, every.time))


def _given_at(every: StoredReadings, deliveries: Deliveries) -> Ints | None:
    """When each reading was given as a correction [us], 0 where it was not; None where none was."""
    if not deliveries.corrected or not len(every.time):
        return None
    loads = _distinct(every.load_id)
    given = [deliveries.given_at(load_id) for load_id in loads]
    return np.array(given, dtype=np.int64)[np.searchsorted(loads, every.load_id)]


def _distinct(load_ids: Ints) -> list[int]:
    """The loads, in order; mostly there is one."""
    if not len(load_ids):
        return []
    low, high = int(load_ids.min()), int(load_ids.max())
    loads: list[int] = [low] if low == high else np.unique(load_ids).tolist()
    return loads


def _taken(column: Ints | None, where: Ints | Bools) -> Ints | None:
    return None if column is None else column[where]


def _repeats(ordered: StoredReadings, given_at: Ints | None) -> Bools:
    repeats = np.zeros(len(ordered.time), np.bool_)
    ranks = (ordered.recorded_at,) if given_at is None else (ordered.recorded_at, given_at)
    columns = (ordered.time, ordered.counter, ordered.feeds, *ranks)
    np.logical_and.reduce([column[1:] == column[:-1] for column in columns], out=repeats[1:])
    return repeats


def _takes_over(ordered: StoredReadings, is_new: Bools, repeats: Bools, deliveries: Deliveries) -> Bools:
    """Mark new readings whose file stands before the one that the same reading is stored by."""
    marked = np.zeros(len(ordered.time), np.bool_)
    if is_new.all() or not repeats.any():
        return marked
    load_id = int(ordered.load_id[np.argmax(is_new)])
    told = repeats[1:] & ~is_new[:-1]
    later = [one for one in _distinct(ordered.load_id[:-1][told]) if deliveries.yields(one, load_id)]
    if later:
        marked[1:] = told & np.isin(ordered.load_id[:-1], later)
    return marked


def _give_way(every: StoredReadings, places: Ints, settled: Settled) -> None:
    """Take out stored readings that others tell now; nothing else was ever said of their times, so they were new."""
    settled.replaced += places.tolist()
    for load_id in _distinct(every.load_id[places]):
        settled.earlier.moves[load_id, NEW, REPEATED] += int((every.load_id[places] == load_id).sum())


def _odd(kept: StoredReadings, is_new: Bools, given_at: Ints | None, terms: Terms) -> Bools:
    """Mark the rows of groups that hold a new row and are not simply readings side by side."""
    size = len(kept.time)
    starts = np.flatnonzero(np.concatenate([[True], kept.time[1:] != kept.time[:-1]])) if size else np.empty(0, int)
    ends = np.append(starts[1:], size) - 1
    shared = (ends > starts) & np.logical_or.reduceat(is_new, starts) if size else np.empty(0, np.bool_)
    if not shared.any():
        return np.zeros(size, np.bool_)
    same_counter = np.zeros(size, np.bool_)
    same_counter[1:] = (kept.counter[1:] == kept.counter[:-1]) & (kept.time[1:] == kept.time[:-1])
    odd = kept.counter[ends] - kept.counter[starts] > terms.burst
    odd |= np.logical_or.reduceat(same_counter, starts)
    for rank in (kept.recorded_at,) if given_at is None else (kept.recorded_at, given_at):
        odd |= np.minimum.reduceat(rank, starts) != np.maximum.reduceat(rank, starts)
    return np.repeat(odd & shared, ends - starts + 1)


def _settle_odd(
    every: StoredReadings, places: Ints, stored_size: int, terms: Terms, history: History, settled: Settled
) -> Ints:
    """Settle the rows of odd groups one by one; returns the places of the new rows that are taken."""
    if not len(places):
        return places
    superseded = history(int(every.time[places[0]]), int(every.time[places[-1]]))
    chosen: list[int] = []
    for time, group in _groups(every, places, terms):
        held = [one for one in group if one.place < stored_size]
        came = [one for one in group if one.place >= stored_size]
        kept = terms.kept.get(time, ())
        fresh = [one for one in came if kept or _identity(every, one) not in superseded]
        settled.repeated += len(came) - len(fresh)
        if fresh:
            account = settle_key([*kept, *held], sorted(fresh, key=lambda one: one.order), terms.fits)
            chosen += _apply(time, held, account, stored_size, settled)
    return np.array(chosen, dtype=np.int64)


def _identity(every: StoredReadings, one: Delivery) -> Identity:
    time, counter, feeds, recorded_at = (column[one.place] for column in every[:4])
    return int(time), int(counter), int(feeds), int(recorded_at)


def _groups(every: StoredReadings, places: Ints, terms: Terms) -> Iterator[tuple[int, list[Delivery]]]:
    """Yield the readings of each time as deliveries; their place is that among all readings, stored ones first."""
    wanted = every.at(places)
    bounds = np.flatnonzero(np.concatenate([[True], wanted.time[1:] != wanted.time[:-1], [True]])).tolist()
    columns = [column.tolist() for column in (*wanted, places)]
    for low, high in pairwise(bounds):
        rows = zip(*(column[low:high] for column in columns), strict=True)
        yield columns[0][low], [_delivery(row, terms) for row in rows]


def _delivery(row: Sequence[int], terms: Terms) -> Delivery:
    time, counter, feeds, recorded_at, load_id, line, place = row
    values = (time, terms.press_id, counter, None if feeds == MISSING else feeds)
    recorded_at = NEVER if recorded_at == MISSING else recorded_at
    return terms.deliveries.of_load(values, recorded_at, load_id, line, place)


def _apply(
    time: int, held: Sequence[Delivery], account: DeliveryAccount, stored_size: int, settled: Settled
) -> list[int]:
    """Take over what the account of one time says; returns the places of the new rows that hold."""
    settled.repeated += account.counts[REPEATED]
    settled.corrected += account.counts["corrected"]
    settled.conflicts += [(one.order.line, reason(_TABLE, one, other)) for one, other in account.lost]
    settled.again += [one.order.line for one in account.again]
    add_recounted(settled.earlier, _TABLE, account)
    holding = {one.place for one in account.holding}
    settled.replaced += [one.place for one in held if one.place not in holding]
    settled.kept[time] = account.others
    return [place for place in holding if place >= stored_size]
