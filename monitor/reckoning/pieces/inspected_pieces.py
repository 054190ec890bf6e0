"""Which pieces an inspection is about.

They are those of its container, those made between two named moments, those since the last tub count, or else the last
ones off the press before it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from monitor.reckoning.pieces.inspections import Inspection
from monitor.reckoning.press.counters import Ints
from monitor.reckoning.press.split import largest_remainder
from shared.facts import PieceFact


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


def inspected_rows(inspection: Inspection, pieces: Pieces) -> tuple[Ints, Ints]:
    """Return the rows of the pieces an inspection is about and how many pieces of each."""
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


def is_spread(inspection: Inspection, pieces: Pieces, rows: Ints) -> bool:
    """Tell whether a tub count lies over more than one coil or die."""
    if inspection.kind != "tub":
        return False
    return len(set(pieces.mounting_id[rows])) > 1 or len(set(pieces.die_id[rows])) > 1
