"""The account of each container: the pieces that came in, went out and are inside, in order of time.

in = inside + out, at every moment, and nothing is negative.  In come the pieces that fell from the press and those
packed in; out go those packed over, sorted out or spent by a test, and shipped.

- What was counted into a container (`quantity`) is the good pieces that had come in when it was closed.  Pieces packed
  in later come on top.  Nobody notes when it was counted: pieces packed in after it was closed, packed over before or
  found bad are within the count or not, whichever comes nearer to what fell.  Where neither is near, it is as above.
- What the count does not explain stands as a difference, with its sign.  A container that was not counted holds what
  fell and was packed in; one of which neither is known holds nobody knows how much.
- More cannot come out than is inside.  Pieces noted beyond that come from nowhere that is known, unless others were
  packed in within half a day: then that note is late.
- What was sent is all that is inside and nothing twice.  A repack noted after the container was sent was done before.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from itertools import accumulate, groupby

from monitor.reckoning.pieces.containers import (
    SORTED_OUT,
    Accounts,
    Box,
    ContainerAccount,
    Entry,
    EntryKind,
    Repack,
    RepackDone,
    ShippedBox,
)
from shared.durations import HOUR_US

#: A repack may be noted later than one that it must have come before by this much [us]; common practice, no source.
NOTED_LATE_US = 12 * HOUR_US


def accounts(
    boxes: Iterable[Box], fell: Mapping[str, int], repacks: Iterable[Repack], sent: Iterable[ShippedBox] = ()
) -> Accounts:
    """Return the accounts of containers; `fell` is the pieces that fell into each, those sorted out later included.

    `repacks` are in any order, to `SORTED_OUT` where pieces left for good.
    """
    ordered = in_order(repacks)
    ins, outs = _by_end(ordered)
    last = _last_sent(sent := sorted(sent, key=lambda s: (s.time_us, s.shipment_id)))
    stores = {}
    for box in boxes:
        name = box.container_id
        moves = (ins.get(name, ()), outs.get(name, ()))
        stores[name] = _Store(_opened(box, fell.get(name, 0), *moves), last.get(name))
        stores[name].fill(min([box.to_us, *(move.time_us for some in moves for move in some)]), fell.get(name, 0))
    poured = _Pouring(stores, ordered, ins).done()
    shipped = _ship(stores, sent)
    return Accounts({name: store.account for name, store in stores.items()}, poured, shipped)


def in_order(repacks: Iterable[Repack]) -> list[Repack]:
    """Sort repacks by time; at one moment a container is filled before it is emptied."""
    ordered: list[Repack] = []
    waiting = sorted(repacks, key=lambda r: (r.time_us, r.from_container, r.to_container, r.quantity))
    for _, same in groupby(waiting, key=lambda r: r.time_us):
        now = list(same)
        while now:
            targets = {r.to_container for r in now}
            chosen = next((r for r in now if r.from_container not in targets), now[0])
            now.remove(chosen)
            ordered.append(chosen)
    return ordered


def _by_end(repacks: Iterable[Repack]) -> tuple[dict[str, list[Repack]], dict[str, list[Repack]]]:
    ins: dict[str, list[Repack]] = defaultdict(list)
    outs: dict[str, list[Repack]] = defaultdict(list)
    for move in repacks:
        outs[move.from_container].append(move)
        if move.to_container != SORTED_OUT:
            ins[move.to_container].append(move)
    return ins, outs


def _last_sent(sent: Iterable[ShippedBox]) -> dict[str, int]:
    return {one.container_id: one.time_us for one in sent}


def _opened(box: Box, fell: int, ins: Sequence[Repack], outs: Sequence[Repack]) -> ContainerAccount:
    """Return an account without entries that says what the count of a container is of."""
    if box.quantity is None:
        return ContainerAccount(box.container_id, bool(fell or ins))
    if not ins and not outs:
        return ContainerAccount(box.container_id, True, box.quantity - fell)
    late = [move.quantity for move in ins if box.is_open or move.time_us > box.to_us]
    early = sum(move.quantity for move in ins) - sum(late)
    found_bad = sum(move.quantity for move in outs if move.to_container == SORTED_OUT)
    gone = sum(m.quantity for m in outs if m.to_container != SORTED_OUT and is_early(box, m))
    # Ways to count, the plainest first: the first of those that leave the smallest difference.
    ways = [
        (box.quantity + left + out - fell - early - more, bool(left), found_bad - out)
        for more in accumulate(late, initial=0)
        for left in sorted({0, gone})
        for out in sorted({0, found_bad}, reverse=True)
    ]
    nearest = min(ways, key=lambda way: abs(way[0]))
    # A difference larger than all that is in question is no evidence of how it was counted.
    explains = abs(nearest[0]) <= sum(late) + gone + found_bad
    difference, is_late, counted_bad = nearest if explains else ways[0]
    return ContainerAccount(box.container_id, True, difference, is_late=is_late, counted_bad=counted_bad)


def is_early(box: Box, move: Repack) -> bool:
    """Tell whether pieces may have left a container before it was counted."""
    return box.is_open or move.time_us < box.to_us


class _Store:
    """A container while its account is written; `_lacking` is what the count says never came, of what is to come."""

    def __init__(self, account: ContainerAccount, last_us: int | None) -> None:
        self.account = account
        self.inside = 0
        self._lacking = max(0, -account.difference)
        self._last_us = last_us

    def fill(self, us: int, fell: int) -> None:
        """Enter what fell in, and what the count has beyond it."""
        self.take(us, EntryKind.FELL, fell)
        self._enter(us, EntryKind.DIFFERENCE, max(0, self.account.difference), "")

    def take(self, us: int, kind: EntryKind, pieces: int, other: str = "") -> None:
        """Enter pieces that came in, less those of which the count says that they never did."""
        self._enter(us, kind, pieces, other)
        absent = min(self._lacking, pieces)
        self._lacking -= absent
        self._enter(us, EntryKind.DIFFERENCE, -absent, "")

    def give(self, us: int, kind: EntryKind, pieces: int, other: str) -> int:
        """Enter pieces that left, at most those that are inside; returns how many."""
        given = min(pieces, self.inside)
        self._enter(us, kind, -given, other)
        return given

    def send(self, us: int, shipment_id: str, *, is_last: bool) -> int:
        """Enter what a shipment took: all but what was still to be packed in or over; returns how many pieces."""
        entries = self.account.entries
        at, given = len(entries), self.inside
        if not is_last:
            at = bisect_right(entries, us, key=lambda entry: entry.time_us)
            given = min([*accumulate((entry.pieces for entry in entries), initial=0)][at:])
        if given:
            us = max(us, entries[at - 1].time_us)
            entries.insert(at, Entry(us, EntryKind.SENT, -given, shipment_id))
            self.inside -= given
        return given

    def _enter(self, us: int, kind: EntryKind, pieces: int, other: str) -> None:
        if not pieces:
            return
        # A repack that is noted after the container was sent was done before, and none is older than the one before.
        us = us if self._last_us is None else min(us, self._last_us)
        entries = self.account.entries
        us = max(us, entries[-1].time_us) if entries else us
        entries.append(Entry(us, kind, pieces, other))
        self.inside += pieces


class _Pouring:
    """Does the repacks one after the other."""

    def __init__(
        self, stores: Mapping[str, _Store], ordered: Sequence[Repack], ins: Mapping[str, Sequence[Repack]]
    ) -> None:
        self._stores = stores
        self._ordered = ordered
        self._ins = ins
        self._begun: set[int] = set()
        self._poured: list[RepackDone] = []

    def done(self) -> list[RepackDone]:
        """Do all and return them in the order in which they were done."""
        for move in self._ordered:
            self._do(move, move.time_us)
        return self._poured

    def _do(self, move: Repack, us: int) -> None:
        if id(move) in self._begun:
            return
        self._begun.add(id(move))
        source, target = self._stores.get(move.from_container), self._stores.get(move.to_container)
        given = before = 0
        if source is not None:
            self._await(source, move, us)
            before = source.inside
            kind = EntryKind.SORTED if move.to_container == SORTED_OUT else EntryKind.PACKED_OUT
            given = source.give(us, kind, move.quantity, move.to_container)
        self._poured.append(RepackDone(move, given, before))
        if target is not None:
            target.take(us, EntryKind.PACKED_IN, move.quantity, move.from_container)

    def _await(self, source: _Store, move: Repack, us: int) -> None:
        """Do first what was noted later, where a container would be emptied of more than is inside."""
        for late in self._ins.get(move.from_container, ()) if source.inside < move.quantity else ():
            if source.inside < move.quantity and late.time_us <= us + NOTED_LATE_US:
                self._do(late, us)


def _ship(stores: Mapping[str, _Store], sent: Iterable[ShippedBox]) -> dict[tuple[str, str], int | None]:
    """Send what is inside; of one sent twice the first shipment has what was in it, the last what came since."""
    found: dict[tuple[str, str], int | None] = {}
    by_box: dict[str, list[ShippedBox]] = defaultdict(list)
    for one in sent:
        by_box[one.container_id].append(one)
    for name, some in by_box.items():
        store = stores.get(name)
        for one in some:
            is_known = store is not None and store.account.is_known
            given = store.send(one.time_us, one.shipment_id, is_last=one is some[-1]) if store and is_known else None
            found[one.shipment_id, name] = given
    return found
