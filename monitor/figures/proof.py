"""The rows behind a line of `suspects`: which inspections it calls bad, which it compares them with, and both rates."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from monitor.figures.analysis import plain_words
from monitor.reckoning.attribution.candidates import build as build_candidates
from monitor.reckoning.attribution.columns import Candidates, named
from monitor.reckoning.attribution.context import build as build_context
from monitor.reckoning.attribution.lines import sides

Flags = npt.NDArray[np.bool_]
_JOINT = "; "


@dataclass(frozen=True)
class Proof:
    """The two sides of a line over the rows of a die, and what was counted on each [pieces]."""

    bad: Flags
    compared: Flags
    bad_inspected: int
    bad_rejected: int
    compared_inspected: int
    compared_rejected: int

    @property
    def bad_rate(self) -> float:
        """Share rejected in the bad rows; NaN without pieces."""
        return self.bad_rejected / self.bad_inspected if self.bad_inspected else np.nan

    @property
    def compared_rate(self) -> float:
        """Share rejected in the rows compared; NaN without pieces."""
        return self.compared_rejected / self.compared_inspected if self.compared_inspected else np.nan


def proof(rows: pd.DataFrame, factor: str, level: str, tied_with: str = "") -> Proof | None:
    """Return the rows of a line, None where the rows no longer hold what it names.

    `rows`: a die's inspections with `rejected` [pieces]; `factor`, `level`, `tied_with` as in `suspects`.
    """
    context = build_context(rows)
    candidates = build_candidates(context)
    others = [tuple(name.split(": ", 1)) for name in tied_with.split(_JOINT) if ": " in name]
    column = _column(candidates, factor, level)
    if column is None:
        column = _beside(candidates, context.inspected, factor, level, others)
    if column is None:
        return None
    bad, compared = sides(column[:, None], context.inspected)
    return _counted(rows, _spread_out(bad, context.kept, len(rows)), _spread_out(compared, context.kept, len(rows)))


def _column(candidates: Candidates, factor: str, level: str) -> npt.NDArray[np.float64] | None:
    """Return the column that a factor and level name; of joint levels the first."""
    wanted = (level, level.split(_JOINT)[0])
    for text in dict.fromkeys(wanted):
        for number, question in enumerate(candidates.questions):
            if named(question.factor) == factor and plain_words(question.level) == text:
                return candidates.column(number)
    return None


def _beside(
    candidates: Candidates,
    inspected: npt.NDArray[np.float64],
    factor: str,
    level: str,
    others: Iterable[tuple[str, ...]],
) -> npt.NDArray[np.float64] | None:
    """Return the column of a level that was only laid around the rows of a line it is tied with."""
    for other_factor, other_level in others:
        around = _column(candidates, other_factor, other_level)
        if around is not None:
            wider = candidates.with_steps_around(sides(around[:, None], inspected)[0], inspected)
            column = _column(wider, factor, level)
            if column is not None:
                return column
    return None


def _spread_out(flags: Flags, kept: npt.NDArray[np.int64], size: int) -> Flags:
    whole = np.zeros(size, dtype=bool)
    whole[kept[flags]] = True
    return whole


def _counted(rows: pd.DataFrame, bad: Flags, compared: Flags) -> Proof:
    looked, found = (rows[name].to_numpy(np.float64) for name in ("inspected", "rejected"))
    sums = [int(column[side].sum()) for side in (bad, compared) for column in (looked, found)]
    return Proof(bad, compared, *sums)
