"""Inspections booked to the pieces they looked at: when those were made, in which die, from which coil.

What an inspection looked at is a span of pieces: those of its container, those made between two named moments, those
since the last tub count, or else the last ones off the press before it.  Counts are shared over the span in whole
numbers, in proportion to the pieces.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from monitor.reckoning.press.counters import Ints
from monitor.reckoning.press.split import largest_remainder
from shared.facts import PieceFact, RejectFact

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


@dataclass(frozen=True)
class Pieces:
    """Piece facts of one press in time order: arrays of one length, and the facts that a reject inherits from.

    Arrays: from_us, to_us [us], pieces, setup (0/1), out, part_no, die_id, mounting_id, stroke_from.
    """

    from_us: Ints
    to_us: Ints
    pieces: Ints
    setup: Ints
    out: Ints
    part_no: npt.NDArray[np.object_]
    die_id: npt.NDArray[np.object_]
    mounting_id: npt.NDArray[np.object_]
    stroke_from: Ints
    facts: Sequence[PieceFact]


def book(inspections: Iterable[Inspection], pieces: Pieces) -> list[RejectFact]:
    """Return reject facts (without press and day) for inspections whose rechecks are merged (`merge_rechecks`)."""
    rows: list[RejectFact] = []
    for inspection in inspections:
        rows += _book_one(inspection, pieces)
    return rows


def _book_one(inspection: Inspection, pieces: Pieces) -> list[RejectFact]:
    rows, weights = _looked_at(inspection, pieces)
    if not pieces.setup[rows].any():
        inspection = with_causes(inspection)
    if len(rows) == 0:
        return [_unplaced(inspection, cause, count) for cause, count in _counts(inspection)]
    spread = int(_is_spread(inspection, pieces, rows))
    booked: list[RejectFact] = []
    for cause, count in _counts(inspection):
        decided = _decided(inspection, cause, count)
        shares = [largest_remainder(n, weights) for n in (decided[0], decided[1], abs(decided[2]))]
        shares.insert(0, _inspected(inspection, weights) if cause == "" else np.zeros_like(weights))
        sign = -1 if decided[2] < 0 else 1
        for place, row in enumerate(rows.tolist()):
            inspected_n, rejected, reworked, released = (int(share[place]) for share in shares)
            if cause and not (rejected or reworked):
                continue
            fact = pieces.facts[row]
            booked.append(
                RejectFact(
                    inspection_id=inspection.inspection_id,
                    kind=inspection.kind,
                    cause=cause,
                    shift_date=fact.shift_date,
                    shift=fact.shift,
                    hour_us=fact.hour_us,
                    die_id=fact.die_id,
                    part_no=fact.part_no,
                    out=fact.out,
                    mounting_id=fact.mounting_id,
                    setup=fact.setup,
                    inspected=inspected_n,
                    rejected=rejected,
                    reworked=reworked,
                    released=sign * released,
                    spread=spread,
                    stroke_from=fact.stroke_from,
                    from_us=fact.from_us,
                    to_us=fact.to_us,
                )
            )
    return booked


def _inspected(inspection: Inspection, weights: Ints) -> Ints:
    """Return pieces inspected by row; a tub count speaks of all pieces made in its span."""
    if inspection.inspected is None:
        return weights
    return largest_remainder(inspection.inspected, weights)


def _counts(inspection: Inspection) -> list[tuple[str, int]]:
    """List "" (the look itself) and every cause that was found."""
    return [("", inspection.rejected.get("", 0)), *((c, n) for c, n in inspection.rejected.items() if c)]


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


def _decided(inspection: Inspection, cause: str, found: int) -> tuple[int, int, int]:
    """Return rejected, reworked and released pieces of a cause after all dispositions."""
    fate = _Fate(found)
    released = -inspection.used_up if cause == "" else 0
    for decision in inspection.dispositions:
        if decision.cause != cause:
            continue
        moved = fate.decide(decision.outcome, decision.pieces)
        released += decision.pieces - moved if cause == "" and decision.outcome not in STAYS else 0
    return fate.rejected, fate.reworked, released


def _looked_at(inspection: Inspection, pieces: Pieces) -> tuple[Ints, Ints]:
    """Return the rows of pieces an inspection speaks of and how many pieces of each."""
    fits = _fits(inspection, pieces)
    rows, weights = _within_any(fits, inspection.spans_us, pieces)
    if not inspection.spans_us or inspection.before_us is not None:
        rows, weights = _with_last_made(fits, inspection, pieces, rows, weights)
    running = pieces.setup[rows] == 0
    # Setting pieces are scrap already; they are only spoken of when nothing else was looked at.
    if running.any():
        return rows[running], weights[running]
    return rows, weights


def _fits(inspection: Inspection, pieces: Pieces) -> npt.NDArray[np.bool_]:
    fits = np.ones(len(pieces.pieces), bool)
    if inspection.part_no:
        fits = fits & (pieces.part_no == inspection.part_no)
    if inspection.out is not None:
        fits = fits & (pieces.out == inspection.out)
    return fits


def _within_any(fits: npt.NDArray[np.bool_], spans_us: Sequence[tuple[int, int]], pieces: Pieces) -> tuple[Ints, Ints]:
    """Return the rows made in any of some spans, each once, and how many pieces of each; spans that overlap add up."""
    found: dict[int, int] = {}
    for span_us in spans_us:
        for row, weight in zip(*(some.tolist() for some in _within(fits, span_us, pieces)), strict=True):
            found[row] = min(found.get(row, 0) + weight, int(pieces.pieces[row]))
    rows = sorted(found)
    return np.array(rows, dtype=np.int64), np.array([found[row] for row in rows], dtype=np.int64)


def _within(fits: npt.NDArray[np.bool_], span_us: tuple[int, int], pieces: Pieces) -> tuple[Ints, Ints]:
    begin, end = span_us
    rows = np.flatnonzero(fits & (pieces.from_us < end) & (pieces.to_us > begin))
    inside = np.minimum(pieces.to_us[rows], end) - np.maximum(pieces.from_us[rows], begin)
    length = np.maximum(pieces.to_us[rows] - pieces.from_us[rows], 1)
    weights = np.rint(pieces.pieces[rows] * (inside / length)).astype(np.int64)
    keep = weights > 0
    return rows[keep], weights[keep]


def _with_last_made(
    fits: npt.NDArray[np.bool_], inspection: Inspection, pieces: Pieces, rows: Ints, weights: Ints
) -> tuple[Ints, Ints]:
    """Return rows and weights with the last pieces off the press before the inspection, as many as it looked at."""
    wanted = max(1, inspection.inspected or 0, sum(inspection.rejected.values())) - int(weights.sum())
    found = dict(zip(rows.tolist(), weights.tolist(), strict=True))
    before_us = inspection.time_us if inspection.before_us is None else inspection.before_us
    end = int(np.searchsorted(pieces.from_us, before_us, side="left"))
    while wanted > 0 and end > 0:
        # Rows of one stretch, a row for each out and coil, begin together; the last stretch comes first.
        begin = int(np.searchsorted(pieces.from_us, pieces.from_us[end - 1], side="left"))
        last = begin + np.flatnonzero(fits[begin:end])
        made = _made_before(before_us, last, pieces)
        take = min(wanted, int(made.sum()))
        if take:
            for row, count in zip(last.tolist(), largest_remainder(take, made).tolist(), strict=True):
                found[row] = min(found.get(row, 0) + count, int(pieces.pieces[row]))
        wanted -= take
        end = begin
    chosen = sorted(row for row, count in found.items() if count)
    return np.array(chosen, dtype=np.int64), np.array([found[row] for row in chosen], dtype=np.int64)


def _made_before(time_us: int, rows: Ints, pieces: Pieces) -> Ints:
    """Return how many pieces of each row had left the press by a moment [us]."""
    length = np.maximum(pieces.to_us[rows] - pieces.from_us[rows], 1)
    share = np.clip((time_us - pieces.from_us[rows]) / length, 0.0, 1.0)
    made: Ints = np.rint(pieces.pieces[rows] * share).astype(np.int64)
    return made


def _is_spread(inspection: Inspection, pieces: Pieces, rows: Ints) -> bool:
    """Tell whether a tub count lies over more than one coil or die."""
    if inspection.kind != "tub":
        return False
    return len(set(pieces.mounting_id[rows])) > 1 or len(set(pieces.die_id[rows])) > 1


def _unplaced(inspection: Inspection, cause: str, count: int) -> RejectFact:
    """Keep an inspection whose pieces nobody can find: no die and no coil, in the shift that looked at them."""
    rejected, reworked, released = _decided(inspection, cause, count)
    shift_date, shift, hour_us = inspection.held_in
    return RejectFact(
        inspection_id=inspection.inspection_id,
        kind=inspection.kind,
        cause=cause,
        shift_date=shift_date,
        shift=shift,
        hour_us=hour_us,
        die_id="",
        part_no=inspection.part_no,
        out=inspection.out or 0,
        mounting_id="",
        setup=0,
        inspected=inspection.inspected or 0 if cause == "" else 0,
        rejected=rejected,
        reworked=reworked,
        released=released,
        spread=0,
        stroke_from=0,
        from_us=inspection.time_us,
        to_us=inspection.time_us,
    )
