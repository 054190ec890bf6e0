"""Inspections booked to the pieces they inspected: counts shared in whole numbers, in proportion to the pieces."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from monitor.reckoning.pieces.inspected_pieces import Pieces, inspected_rows, is_spread
from monitor.reckoning.pieces.inspections import Inspection, fate_of, with_causes
from monitor.reckoning.press.counters import Ints
from monitor.reckoning.press.split import largest_remainder
from shared.facts import RejectFact


def book(inspections: Iterable[Inspection], pieces: Pieces) -> list[RejectFact]:
    """Return reject facts (without press and day) for inspections whose rechecks are merged (`merge_rechecks`)."""
    rows: list[RejectFact] = []
    for inspection in inspections:
        rows += _book_one(inspection, pieces)
    return rows


def _book_one(inspection: Inspection, pieces: Pieces) -> list[RejectFact]:
    rows, weights = inspected_rows(inspection, pieces)
    if not pieces.setup[rows].any():
        inspection = with_causes(inspection)
    if len(rows) == 0:
        return [_unplaced(inspection, cause, count) for cause, count in _counts(inspection)]
    spread = int(is_spread(inspection, pieces, rows))
    booked: list[RejectFact] = []
    for cause, count in _counts(inspection):
        decided = fate_of(inspection, cause, count)
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


def _unplaced(inspection: Inspection, cause: str, count: int) -> RejectFact:
    """Keep an inspection whose pieces nobody can find: no die and no coil, in the shift that looked at them."""
    rejected, reworked, released = fate_of(inspection, cause, count)
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
