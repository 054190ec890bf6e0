"""What becomes of all the deliveries of one row: which holds, and how each counts, in whatever order they came.

A delivery has a rank: when its row was recorded, and among equals when it was given as a correction.  Deliveries of one
rank that say the same are one, told by the first of them in the order of their files; the others repeat it.  Those of
one rank that say something else contradict it and are set aside, unless a later rank says the same as they do.  Of the
others the lowest rank is new, each later one corrects what was before, and the highest holds.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import NamedTuple

from monitor.ledger.catalog.values import Value

NEW, REPEATED, CORRECTED, SET_ASIDE = "new", "repeated", "corrected", "set_aside"
#: Of a row that does not say when it was recorded; it is older than any that does.
NEVER = -1


class Order(NamedTuple):
    """Where a delivery stands: by the name of its file without its ending, then by its line, whenever it came.

    Files of one name are the exception: nothing but the order of their loads tells which was there first.
    """

    stem: str
    file: str
    load_id: int
    line: int


class Delivery(NamedTuple):
    """One delivery of a row: what it says, when it was recorded and given as a correction [us], and where it stands.

    `given_at` is 0 for a row that was not given as a correction.  `place` is for whoever delivers it.
    """

    values: tuple[Value, ...]
    recorded_at: int
    given_at: int
    order: Order
    load_id: int
    place: int = -1

    @property
    def rank(self) -> tuple[int, int]:
        """What decides which of two deliveries is the later word."""
        # A correction that does not say when it was written is as new as the moment somebody gave it.
        return (self.recorded_at if self.recorded_at > NEVER else self.given_at or NEVER), self.given_at

    @property
    def saying(self) -> tuple[tuple[int, int], tuple[Value, ...]]:
        """What makes two deliveries one and the same."""
        return self.rank, self.values


class Verdict(NamedTuple):
    """How a delivery counts, whether it holds, and what it contradicts where it is set aside."""

    counts_as: str
    holds: bool = False
    against: Delivery | None = None


#: Whether two deliveries of one rank can both be true.
Fits = Callable[[Delivery, Delivery], bool]
Move = tuple[int, str, str]
"""Load, how a row of it counted, and how it counts now."""


def alone(_one: Delivery, _other: Delivery) -> bool:
    """Rows of a key: there is one at most."""
    return False


def judge(deliveries: Iterable[Delivery], fits: Fits = alone) -> dict[Delivery, Verdict]:
    """Judge the deliveries of one key, of which no two say the same."""
    verdicts: dict[Delivery, Verdict] = {}
    before: list[Delivery] = []
    lost: list[Delivery] = []
    in_order = sorted(deliveries, key=lambda one: (one.rank, one.order, repr(one.values)))
    for _, same in groupby(in_order, key=lambda one: one.rank):
        taken: list[Delivery] = []
        for one in same:
            against = next((other for other in taken if not fits(one, other)), None)
            if against is None:
                taken.append(one)
            else:
                lost.append(one)
                verdicts[one] = Verdict(SET_ASIDE, against=against)
        verdicts |= _counted(taken, before)
        before = taken
    said = {(one.values, one.rank) for one, verdict in verdicts.items() if verdict.against is None}
    for one in lost:
        if any(values == one.values and rank > one.rank for values, rank in said):
            verdicts[one] = Verdict(REPEATED)
    return verdicts | {one: Verdict(verdicts[one].counts_as, holds=True) for one in before}


def _counted(taken: Sequence[Delivery], before: Sequence[Delivery]) -> dict[Delivery, Verdict]:
    """Count those of one rank: as many as took the place of others are corrections, more than that are new."""
    known = {one.values for one in before}
    gone = len(known - {one.values for one in taken})
    counted = {}
    for one in taken:
        if one.values in known:
            counted[one] = Verdict(REPEATED)
        else:
            counted[one] = Verdict(CORRECTED if gone > 0 else NEW)
            gone -= 1
    return counted


@dataclass
class DeliveryAccount:
    """What rows that came did to the account of one key.

    `counts` and `lost` (with what it contradicts) are of rows that came, `again` those of them that repeat a row set
    aside.  `moves` are rows delivered earlier that count otherwise now; `aside`, `back` and `told` those that are set
    aside now, no longer, or against another row.  `holding` is what holds now; `others` are the rest, and whether each
    is set aside.
    """

    counts: Counter[str] = field(default_factory=Counter)
    lost: list[tuple[Delivery, Delivery]] = field(default_factory=list)
    again: list[Delivery] = field(default_factory=list)
    moves: Counter[Move] = field(default_factory=Counter)
    aside: list[tuple[Delivery, Delivery]] = field(default_factory=list)
    back: list[Delivery] = field(default_factory=list)
    told: list[tuple[Delivery, Delivery]] = field(default_factory=list)
    holding: list[Delivery] = field(default_factory=list)
    others: list[tuple[Delivery, bool]] = field(default_factory=list)


def settle_key(held: Iterable[Delivery], incoming: Iterable[Delivery], fits: Fits = alone) -> DeliveryAccount:
    """Settle rows that came against all that were delivered earlier for their key, of which no two say the same."""
    before = {one.saying: one for one in held}
    earlier = judge(before.values(), fits)
    now, account = dict(before), DeliveryAccount()
    set_aside = {one for one, verdict in earlier.items() if verdict.against is not None}
    came: list[Delivery] = []
    for one in incoming:
        told = now.get(one.saying)
        if told is None or one.order < told.order or (told in set_aside and _same_row(one, told)):
            now[one.saying] = one
            came.append(one)
            if told in came:
                account.counts[REPEATED] += 1
        else:
            account.counts[REPEATED] += 1
            account.again.append(one)
    verdicts = judge(now.values(), fits)
    account.again = [one for one in account.again if verdicts[now[one.saying]].against is not None]
    _count_new(account, [one for one in came if now[one.saying] is one], verdicts)
    for saying, one in before.items():
        if now[saying] is one or one not in set_aside or not _same_row(now[saying], one):
            _recount(account, one, earlier[one], verdicts.get(one, Verdict(REPEATED)))
    account.holding = [one for one in now.values() if verdicts[one].holds]
    account.others = [(one, verdicts[one].against is not None) for one in now.values() if not verdicts[one].holds]
    return account


def _same_row(one: Delivery, told: Delivery) -> bool:
    """Whether a row that came is the very one that was delivered earlier, set aside and let in by now."""
    return (one.load_id, one.order, one.saying) == (told.load_id, told.order, told.saying)


def _count_new(account: DeliveryAccount, came: Iterable[Delivery], verdicts: dict[Delivery, Verdict]) -> None:
    for one in came:
        verdict = verdicts[one]
        if verdict.against is None:
            account.counts[verdict.counts_as] += 1
        else:
            account.lost.append((one, verdict.against))


def _recount(account: DeliveryAccount, one: Delivery, was: Verdict, now: Verdict) -> None:
    if was.counts_as != now.counts_as:
        account.moves[one.load_id, was.counts_as, now.counts_as] += 1
    if now.against is not None and was.against is None:
        account.aside.append((one, now.against))
    elif now.against is None and was.against is not None:
        account.back.append(one)
    elif now.against is not None and was.against is not None and not _same_row(now.against, was.against):
        account.told.append((one, now.against))
