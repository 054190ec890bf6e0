"""Which notes cannot all be true: one thing in two places, one piece decided twice, one box sent twice.

People round times, note late and forget the end of things, so what is only likely to be wrong is not called so.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from shared.durations import MINUTE_US

#: By how much times that people note may be off [us]; common practice, no source.
EDGE_US = 5 * MINUTE_US

#: The outcome of a decision whose pieces are mended, and may be decided on again.
REWORK = "rework"


@dataclass(frozen=True)
class PressStay:
    """One stay of a coil, reel or die on a press, from being noted there until it was gone [us, None = still there].

    `note` is whatever the caller knows the noted beginning by.
    """

    name: str
    press_id: str
    from_us: int
    to_us: int | None = None
    note: Any = None


@dataclass(frozen=True)
class Overlap:
    """Two stays of one thing on two presses, the later one second, and the time both would have lasted [us]."""

    first: PressStay
    second: PressStay
    from_us: int
    to_us: int | None


def overlaps(stays: Iterable[PressStay], edge_us: int = EDGE_US) -> list[Overlap]:
    """Return where one thing stayed on two presses at once for longer than times may be off, in order of time."""
    by_name: dict[str, list[PressStay]] = defaultdict(list)
    for stay in sorted(stays, key=lambda s: (s.from_us, s.press_id)):
        by_name[stay.name].append(stay)
    found = [one for some in by_name.values() for one in _of_one(some, edge_us)]
    return sorted(found, key=lambda one: (one.second.from_us, one.second.press_id))


def _of_one(stays: Sequence[PressStay], edge_us: int) -> Iterator[Overlap]:
    """Yield the overlaps of each stay with the last one before it on another press."""
    for place, second in enumerate(stays):
        before = [stay for stay in stays[:place] if stay.press_id != second.press_id]
        if not before:
            continue
        ends = [stay.to_us for stay in (before[-1], second) if stay.to_us is not None]
        end = min(ends, default=None)
        if end is None or end - second.from_us > edge_us:
            yield Overlap(before[-1], second, second.from_us, end)


@dataclass(frozen=True)
class Decision:
    """What was decided on pieces: cause ("" = any), outcome, pieces, when [us], and what the caller knows it by."""

    cause: str
    outcome: str
    pieces: int
    time_us: int
    note: Any = None


@dataclass(frozen=True)
class Beyond:
    """A decision on more pieces than were left to decide on, by so many."""

    decision: Decision
    pieces: int


def decided_beyond(decisions: Iterable[Decision], rejected: Mapping[str, int], settable: int = 0) -> Beyond | None:
    """Return the first decision on pieces that there were not, None where all of them fit.

    `rejected` are pieces by cause, "" = without one; `settable` are setting pieces, on which a decision without a
    cause may be made.  A reworked piece may be decided on again later.
    """
    pool = _Pool(dict(rejected), settable)
    named_first = sorted(decisions, key=lambda d: (not d.cause, d.time_us))
    for decision in named_first:
        missing = pool.take(decision)
        if missing > 0:
            return Beyond(decision, missing)
    return None


class _Pool:
    """Pieces that are still to be decided on."""

    def __init__(self, rejected: dict[str, int], settable: int) -> None:
        self._left = rejected
        self._settable = settable
        self._reworked: list[tuple[int, int]] = []

    def take(self, decision: Decision) -> int:
        """Take the pieces of a decision; return how many of them there are not."""
        wanted = decision.pieces
        causes = list(self._left) if not decision.cause else [decision.cause, ""]
        for cause in causes:
            taken = min(wanted, self._left.get(cause, 0))
            self._left[cause] = self._left.get(cause, 0) - taken
            wanted -= taken
        if not decision.cause:
            taken = min(wanted, self._settable)
            self._settable -= taken
            wanted -= taken
        wanted = self._take_reworked(wanted, decision.time_us)
        if decision.outcome == REWORK:
            self._reworked.append((decision.time_us, decision.pieces - wanted))
        return wanted

    def _take_reworked(self, wanted: int, before_us: int) -> int:
        """Take pieces whose rework was decided earlier; return how many are wanted still."""
        for place, (us, pieces) in enumerate(self._reworked):
            taken = min(wanted, pieces) if us < before_us else 0
            self._reworked[place] = (us, pieces - taken)
            wanted -= taken
        return wanted


@dataclass(frozen=True)
class Sending:
    """A container sent at a moment [us], and what the caller knows it by."""

    container_id: str
    time_us: int
    note: Any = None


def sent_again(sendings: Iterable[Sending], filled: Iterable[tuple[str, int]]) -> list[tuple[Sending, Sending]]:
    """Return pairs of sendings of one container that was not filled anew between them.

    `filled` are containers and the moments [us] at which pieces were packed into them.
    """
    by_box: dict[str, list[Sending]] = defaultdict(list)
    for sending in sorted(sendings, key=lambda s: s.time_us):
        by_box[sending.container_id].append(sending)
    packed: dict[str, list[int]] = defaultdict(list)
    for name, us in filled:
        packed[name].append(us)
    return [
        (first, second)
        for name, some in sorted(by_box.items())
        for first, second in pairwise(some)
        if not any(first.time_us < us <= second.time_us for us in packed[name])
    ]
