"""Columns over the rows and the questions asked of them, so laid out that asking all is a few passes over the rows."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from monitor.reckoning.attribution import shapes
from shared.factors import Explanation, Level

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def named(factor: str) -> str:
    """Name in the answer of a factor that is looked at apart: a coil is its lot, the first strokes a setup."""
    return {"coil": "lot", "since_set": "setup"}.get(factor, factor)


@dataclass(frozen=True)
class ColumnTest:
    """One look: a column, asked as it is or turned round (`low`), under a factor and a level.

    `quantity` is shared by curves of one trouble, a level of a name is one of its own; `looks` is the number by which a
    chance is corrected for everything looked at, this question's weight among the others taken in.
    """

    factor: str
    level: Level
    quantity: str | Level
    column: int
    low: bool
    looks: float


@dataclass(frozen=True)
class Meetings:
    """Which columns of marks meet which groups of rows, found once for each way of grouping.

    `found` keeps the codes themselves beside what was found with them, so that no other array can take their id.
    """

    marks: sparse.csc_matrix
    found: dict[int, tuple[Ints, Ints, Ints]] = field(default_factory=dict)

    def square_of_sums(self, codes: Ints, weights: Floats) -> Floats:
        """Sum over groups of the squared sum of every column."""
        levels = self.marks.shape[1]
        if id(codes) not in self.found:
            pairs, place = np.unique(codes[self.marks.indices] * levels + _column_of(self.marks), return_inverse=True)
            self.found[id(codes)] = codes, place, pairs % levels
        _, place, level = self.found[id(codes)]
        sums = np.bincount(place, weights[self.marks.indices], level.size)
        return np.asarray(np.bincount(level, sums * sums, levels), float)


@dataclass(frozen=True)
class Candidates:
    """Columns and the questions asked of them.

    Columns are, in this order: `marks` (one level each), steps, and `curves` (dense).  A step is the sum of the
    `bins` from its own to the last of its quantity (`ends`), plus `fill` in rows whose value is `unknown`, so that
    all steps cost no more than their bins.  `aliases` are other names of a column's very rows.
    """

    marks: sparse.csc_matrix
    bins: sparse.csc_matrix
    ends: Ints
    unknown: sparse.csc_matrix
    fill: Floats
    curves: Floats
    questions: tuple[ColumnTest, ...]
    aliases: dict[int, tuple[Explanation, ...]]
    quantities: tuple[tuple[str, shapes.Quantity], ...]
    meetings: Meetings

    @cached_property
    def of_question(self) -> Ints:
        """Column of each question."""
        return np.array([question.column for question in self.questions], int)

    @cached_property
    def factors(self) -> NDArray[np.str_]:
        """Factor of each question, as it is named in the answer."""
        return np.array([named(question.factor) for question in self.questions])

    @cached_property
    def not_known(self) -> dict[tuple[str, str], Floats]:
        """By factor and quantity a column that marks the rows whose value is not known, where some are and some not."""
        marks: dict[tuple[str, str], Floats] = {}
        for factor, one in self.quantities:
            marks.setdefault((factor, one.name), np.isnan(one.values).astype(float))
        return {trouble: mark for trouble, mark in marks.items() if 0 < mark.sum() < mark.size}

    @cached_property
    def troubles(self) -> Ints:
        """Number of the trouble that each question is about: a factor and, for what is measured, the quantity."""
        numbers: dict[tuple[str, str | Level], int] = {}
        return np.array([numbers.setdefault((one.factor, one.quantity), len(numbers)) for one in self.questions], int)

    @cached_property
    def sign(self) -> Floats:
        """1 for questions asked as the column stands, -1 for those turned round."""
        return np.array([-1.0 if question.low else 1.0 for question in self.questions])

    @cached_property
    def looks(self) -> Floats:
        """Correction of each question."""
        return np.array([question.looks for question in self.questions])

    def column(self, index: int) -> Floats:
        """Column of one question, high where the question holds the rate to be high."""
        question = self.questions[index]
        values = self._values(question.column)
        return 1 - values if question.low else values

    def _values(self, column: int) -> Floats:
        marks, steps = self.marks.shape[1], self.bins.shape[1]
        if column >= marks + steps:
            return self.curves[:, column - marks - steps]
        values = np.zeros(self.marks.shape[0])
        if column < marks:
            values[_rows(self.marks, column, column + 1)] = 1.0
            return values
        step = column - marks
        values[_rows(self.bins, step, int(self.ends[step]))] = 1.0
        values[_rows(self.unknown, step, step + 1)] = self.fill[step]
        return values

    def dot(self, rows: Floats) -> Floats:
        """Sum of `rows` (rows, or rows x k) times each column."""
        rows = np.ascontiguousarray(rows)  # a sparse product would copy it each time
        steps = self._add_up(self.bins.T @ rows)
        known_not = self.unknown.T @ rows
        steps = steps + (self.fill * known_not.T).T
        return np.concatenate([self.marks.T @ rows, steps, self.curves.T @ rows])

    def dot_square(self, rows: Floats) -> Floats:
        """Sum of `rows` times the square of each column."""
        steps = self._add_up(self.bins.T @ rows) + self.fill**2 * (self.unknown.T @ rows)
        return np.concatenate([self.marks.T @ rows, steps, (self.curves**2).T @ rows])

    def square_of_sums(self, codes: Ints, weights: Floats) -> Floats:
        """Sum over groups of the squared sum of every column; `codes` say the group a row, `weights` what it counts."""
        groups = int(codes.max()) + 1
        marks = self.meetings.square_of_sums(codes, weights)
        steps = self._add_up(_by_group(self.bins, codes, weights, groups).T)
        steps = steps + (self.fill * _by_group(self.unknown, codes, weights, groups)).T
        adder = sparse.csr_matrix((weights, (codes, np.arange(codes.size))), shape=(groups, codes.size))
        curves = np.asarray(adder @ self.curves)
        return np.concatenate([marks, np.einsum("ij,ij->i", steps, steps), np.einsum("ij,ij->j", curves, curves)])

    def with_steps_around(self, rows: NDArray[np.bool_], inspected: Floats) -> Candidates:
        """Add, for every measured circumstance, the two steps that fit these rows best.

        They are what the circumstance would have to do to look like those rows, and count for no look of their own.
        """
        columns, questions = [self.curves], list(self.questions)
        first = self.marks.shape[1] + self.bins.shape[1] + self.curves.shape[1]
        for factor, quantity in self.quantities:
            for level, column in quantity.around(rows):
                questions.append(
                    ColumnTest(
                        factor, level, quantity=quantity.name, column=first + len(columns) - 1, low=False, looks=1.0
                    )
                )
                columns.append(shapes.filled(column, inspected)[:, None])
        curves = np.concatenate(columns, axis=1)
        return replace(self, curves=curves, questions=tuple(questions))

    def _add_up(self, bins: Floats) -> Floats:
        """Turn sums over bins into sums over steps: from each bin to the last of its quantity."""
        from_last = np.cumsum(bins[::-1], axis=0)[::-1]
        beyond = np.concatenate([from_last, np.zeros_like(from_last[:1])])[self.ends] if len(bins) else bins
        return from_last - beyond


def _by_group(matrix: sparse.csc_matrix, codes: Ints, weights: Floats, groups: int) -> Floats:
    """Sum of every column by group, groups x columns."""
    columns = matrix.shape[1]
    cells = codes[matrix.indices] * columns + _column_of(matrix)
    return np.asarray(np.bincount(cells, weights[matrix.indices], groups * columns), float).reshape(groups, columns)


def _column_of(matrix: sparse.csc_matrix) -> Ints:
    """Column of every entry."""
    return np.repeat(np.arange(matrix.shape[1]), np.diff(matrix.indptr))


def _rows(matrix: sparse.csc_matrix, first: int, last: int) -> Ints:
    """Rows marked in neighbouring columns."""
    return np.asarray(matrix.indices[matrix.indptr[first] : matrix.indptr[last]], np.int64)
