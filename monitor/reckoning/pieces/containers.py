"""Containers, what is moved between them and sent, and their accounts as they come out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from functools import cached_property

#: Stands as the container into which rejected pieces were sorted out.
SORTED_OUT = ""


@dataclass(frozen=True)
class Box:
    """A container filled at a press from one moment to another [us]; `doubts` are strokes by which these are uncertain.

    `quantity` is the pieces counted into it (None = not counted), `out` the only out it takes (None = any); `is_open`
    where nobody noted that it was closed.  `beside` are spans [us] in which another one stood at the press.
    """

    container_id: str
    part_no: str
    press_id: str
    from_us: int
    to_us: int
    quantity: int | None = None
    out: int | None = None
    doubts: tuple[float, float] = (0.0, 0.0)
    is_open: bool = False
    beside: tuple[tuple[int, int], ...] = ()

    @property
    def filled_us(self) -> list[tuple[int, int]]:
        """The spans [us] in which pieces fell into it."""
        found, begin = [], self.from_us
        for first, last in sorted(self.beside):
            if begin < min(first, self.to_us):
                found.append((begin, min(first, self.to_us)))
            begin = max(begin, last)
        return [*found, (begin, self.to_us)] if begin < self.to_us else found


@dataclass(frozen=True)
class Repack:
    """Pieces moved from one container into another, or sorted out of it.

    `fell` tells whether the pieces are among those that are said to have fallen into the container.
    """

    time_us: int
    from_container: str
    to_container: str
    quantity: int
    fell: bool = True


@dataclass(frozen=True)
class ShippedBox:
    """A container on a shipment."""

    time_us: int
    shipment_id: str
    container_id: str


@dataclass(frozen=True)
class RepackDone:
    """A repack as it was: `pieces` came out of the container, which held `before`; the rest from nowhere known."""

    repack: Repack
    pieces: int
    before: int


class EntryKind(Enum):
    """What an entry of an account is."""

    FELL = "fell in from the press"
    DIFFERENCE = "counted and not explained"
    PACKED_IN = "packed in"
    PACKED_OUT = "packed over"
    SORTED = "sorted out"
    SENT = "shipped"


@dataclass(frozen=True, slots=True)
class Entry:
    """Pieces that came into a container (above 0) or left it; `other` is the container or the shipment."""

    time_us: int
    kind: EntryKind
    pieces: int
    other: str = ""


@dataclass
class ContainerAccount:
    """The account of one container: entries in order of time.

    `is_known` is whether anything says how much came in; `difference` what the count has beyond what came in; `is_late`
    whether it was counted after pieces had been packed over, and `counted_bad` how many pieces it holds that were
    sorted out later.
    """

    container_id: str
    is_known: bool
    difference: int = 0
    is_late: bool = False
    counted_bad: int = 0
    entries: list[Entry] = field(default_factory=list)

    def inside(self, until_us: int | None = None) -> int:
        """Return the pieces inside after all entries up to a moment [us], or after all."""
        return sum(e.pieces for e in self.entries if until_us is None or e.time_us <= until_us)

    @property
    def came(self) -> int:
        """The pieces that ever came in."""
        return sum(e.pieces for e in self.entries if e.pieces > 0) + self._never_came

    @property
    def went(self) -> int:
        """The pieces that ever left."""
        return -sum(e.pieces for e in self.entries if e.pieces < 0 and e.kind is not EntryKind.DIFFERENCE)

    @property
    def held(self) -> int:
        """The pieces that are inside, or were when it was shipped."""
        return sum(e.pieces for e in self.entries if e.kind is not EntryKind.SENT)

    @property
    def _never_came(self) -> int:
        return sum(e.pieces for e in self.entries if e.pieces < 0 and e.kind is EntryKind.DIFFERENCE)


@dataclass(frozen=True)
class Accounts:
    """Accounts by container, the repacks in the order they were done, and what each shipment took of a container."""

    by_container: Mapping[str, ContainerAccount]
    poured: Sequence[RepackDone]
    sent: Mapping[tuple[str, str], int | None]

    @cached_property
    def reaches(self) -> Mapping[str, Sequence[RepackDone]]:
        """The repacks by the container they came out of."""
        found: dict[str, list[RepackDone]] = defaultdict(list)
        for one in self.poured:
            found[one.repack.from_container].append(one)
        return found


def reached(
    found: Accounts, start: Mapping[str, int], whole: Collection[str] = ()
) -> tuple[dict[str, int], dict[str, int]]:
    """Return, by container, how many of some pieces came in at most, and how many are there at most.

    The pieces are those of `start` [pieces by container] and all that ever were in a container of `whole`.
    """
    here = dict(start) | dict.fromkeys(whole, 0)
    came = dict(here)
    for one in found.poured:
        source, target = one.repack.from_container, one.repack.to_container
        some = one.before if source in whole else min(here.get(source, 0), one.before)
        if source in here:
            here[source] = min(some, one.before - one.pieces)
        # What is said to have come out of a container, and was not in it by the books, is of it nevertheless.
        moved = one.repack.quantity if source in whole else min(some, one.pieces)
        if moved and target != SORTED_OUT:
            here[target] = here.get(target, 0) + moved
            came[target] = came.get(target, 0) + moved
    held = {name: account.held for name, account in found.by_container.items()}
    for name in whole:
        came[name], here[name] = found.by_container[name].came, held[name]
    return came, {name: min(count, held.get(name, count)) for name, count in here.items()}
