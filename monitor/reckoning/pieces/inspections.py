"""Inspections, and what was decided about the pieces they rejected: scrap, rework or release, cause by cause."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from monitor.reckoning.press.split import largest_remainder

#: What a disposition does to a rejected piece: still scrap, mended, or good after all.
STAYS = frozenset({"scrap", "return_to_supplier"})


@dataclass(frozen=True)
class Disposition:
    """What was decided on rejected or setting pieces of an inspection: cause ("" = any), outcome, pieces, when [us].

    Without a cause it speaks of the rejected pieces first, and of setting pieces with what goes beyond them.
    """

    cause: str
    outcome: str
    pieces: int
    time_us: int = 0


@dataclass(frozen=True)
class Inspection:
    """One inspection: pieces inspected (None = tub count), rejected by cause, and what span of pieces it speaks of.

    `spans_us` are the times [us] in which the pieces were made, none when only their number tells; `part_no` and `out`
    narrow it ("" and None = any).  `before_us` is set where the span is that of the sample which it rechecks: of the
    pieces beyond that span, those made last before this moment [us] were looked at.  `held_in` is the shift date, shift
    and clock hour [us] of the inspection itself.
    """

    inspection_id: str
    time_us: int
    kind: str
    inspected: int | None
    rejected: Mapping[str, int]
    part_no: str = ""
    out: int | None = None
    spans_us: tuple[tuple[int, int], ...] = ()
    before_us: int | None = None
    rechecks: str = ""
    scope: str = ""
    used_up: int = 0
    dispositions: tuple[Disposition, ...] = field(default=())
    held_in: tuple[str, str, int] = ("", "", 0)


def with_causes(inspection: Inspection) -> Inspection:
    """Share decisions without a cause over the causes of the pieces that they can speak of, in proportion.

    What is mended or let pass is still rejected; what is scrapped is of the pieces nobody decided on yet, then mended.
    """
    left = {cause: count for cause, count in inspection.rejected.items() if cause}
    fates = {cause: _Fate(count) for cause, count in left.items()}
    for decision in inspection.dispositions:
        if decision.cause in left and decision.outcome not in STAYS:
            left[decision.cause] -= min(left[decision.cause], decision.pieces)
    shared: list[Disposition] = []
    for decision in inspection.dispositions:
        parts = {decision.cause: decision.pieces} if decision.cause else _parts(decision, left, fates)
        shared += [replace(decision, cause=cause, pieces=pieces) for cause, pieces in parts.items()]
        for cause, pieces in parts.items():
            if cause in fates:
                fates[cause].decide(decision.outcome, pieces)
    return replace(inspection, dispositions=tuple(shared))


def _parts(decision: Disposition, left: dict[str, int], fates: Mapping[str, _Fate]) -> dict[str, int]:
    """Return the pieces of a decision without a cause by cause, "" for what goes beyond the rejected pieces."""
    if decision.outcome in STAYS:
        waiting = _shares(decision.pieces, {cause: fate.waiting for cause, fate in fates.items()})
        mended = {cause: fate.reworked for cause, fate in fates.items()}
        failed = _shares(decision.pieces - sum(waiting.values()), mended)
        return {cause: waiting[cause] + failed[cause] for cause in fates}
    parts = _shares(decision.pieces, left)
    for cause, pieces in parts.items():
        left[cause] -= pieces
    return {**parts, "": decision.pieces - sum(parts.values())}


def _shares(pieces: int, over: Mapping[str, int]) -> dict[str, int]:
    """Share pieces over causes in proportion to their counts, no more than there are."""
    counts = list(over.values())
    shares = largest_remainder(min(pieces, sum(counts)), np.array(counts, dtype=np.int64)).tolist()
    return dict(zip(over, shares, strict=True))


@dataclass
class _Fate:
    """What became of the pieces rejected for a cause: rejected now, nobody decided on them yet, reworked."""

    rejected: int
    waiting: int = field(init=False)
    reworked: int = 0

    def __post_init__(self) -> None:
        self.waiting = self.rejected

    def decide(self, outcome: str, pieces: int) -> int:
        """Decide on pieces; returns how many of them were mended or let pass."""
        waited = min(pieces, self.waiting)
        self.waiting -= waited
        if outcome in STAYS:
            # What was mended and is scrapped all the same was not mended.
            failed = min(pieces - waited, self.reworked)
            self.rejected, self.reworked = self.rejected + failed, self.reworked - failed
            return 0
        moved = min(pieces, self.rejected)
        self.rejected -= moved
        self.reworked += moved if outcome == "rework" else 0
        return moved


def fate_of(inspection: Inspection, cause: str, found: int) -> tuple[int, int, int]:
    """Return rejected, reworked and released pieces of a cause after all dispositions."""
    fate = _Fate(found)
    released = -inspection.used_up if cause == "" else 0
    for decision in inspection.dispositions:
        if decision.cause != cause:
            continue
        moved = fate.decide(decision.outcome, decision.pieces)
        released += decision.pieces - moved if cause == "" and decision.outcome not in STAYS else 0
    return fate.rejected, fate.reworked, released
