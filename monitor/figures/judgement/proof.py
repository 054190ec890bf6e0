"""The rows behind a line of `suspects`: which inspections it calls bad, which it compares them with, and both rates."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from monitor.reckoning.attribution.candidates import build as build_candidates
from monitor.reckoning.attribution.columns import Candidates, named
from monitor.reckoning.attribution.context import build as build_context
from monitor.reckoning.attribution.lines import sides
from shared.factors import Explanation

Flags = npt.NDArray[np.bool_]


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


class Proofs:
    """The rows behind the lines of one die, read once for all of them.

    `rows`: a die's inspections with `rejected` [pieces] of one cause.
    """

    def __init__(self, rows: pd.DataFrame) -> None:
        self._rows = rows
        self._context = build_context(rows)
        self._candidates = build_candidates(self._context)

    def of(self, explanation: Explanation, tied_with: Iterable[Explanation] = ()) -> Proof | None:
        """Return the rows of what a line of `suspects` names; None where they no longer hold it."""
        inspected = self._context.inspected
        column = _column(self._candidates, explanation)
        if column is None:
            column = _beside(self._candidates, inspected, explanation, tied_with)
        if column is None:
            return None
        bad, compared = (self._whole(flags) for flags in sides(column[:, None], inspected))
        looked, found = (self._rows[name].to_numpy(np.float64) for name in ("inspected", "rejected"))
        return Proof(
            bad,
            compared,
            bad_inspected=int(looked[bad].sum()),
            bad_rejected=int(found[bad].sum()),
            compared_inspected=int(looked[compared].sum()),
            compared_rejected=int(found[compared].sum()),
        )

    def _whole(self, flags: Flags) -> Flags:
        """Return flags for all rows: those without pieces are on neither side."""
        whole = np.zeros(len(self._rows), dtype=bool)
        whole[self._context.kept[flags]] = True
        return whole


def _column(candidates: Candidates, explanation: Explanation) -> npt.NDArray[np.float64] | None:
    """Return the column that a factor and level name; of several levels the first."""
    for number, question in enumerate(candidates.questions):
        if named(question.factor) == explanation.factor and question.level == explanation.levels[0]:
            return candidates.column(number)
    return None


def _beside(
    candidates: Candidates,
    inspected: npt.NDArray[np.float64],
    explanation: Explanation,
    others: Iterable[Explanation],
) -> npt.NDArray[np.float64] | None:
    """Return the column of a level that was only laid around the rows of a line it is tied with."""
    for other in others:
        around = _column(candidates, other)
        if around is not None:
            wider = candidates.with_steps_around(sides(around[:, None], inspected)[0], inspected)
            column = _column(wider, explanation)
            if column is not None:
                return column
    return None
