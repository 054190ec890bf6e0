"""Everything that is looked at in the rows of a die: levels, slopes, steps, and how likely each is held."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from monitor.reckoning.attribution import shapes
from monitor.reckoning.attribution.columns import Candidates, ColumnTest, Meetings
from monitor.reckoning.attribution.context import BEFORE_PREFIX, CERT_PREFIX, WEAR_PREFIX, Context, stations_of
from shared.factors import Explanation, Level

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# How the allowed chance of a false alarm is shared out over the factors; a factor that the data do not have leaves
# its part to the others.  Lots are asked about most and have most levels; common practice, no source.
SHARE_OF_FACTOR = {
    "lot": 0.30,
    "coil": 0.07,
    "heat": 0.10,
    "supplier": 0.04,
    "cert": 0.07,
    "coil_position": 0.08,
    "wear": 0.08,
    "press": 0.05,
    "shift": 0.03,
    "setup": 0.07,
    "since_set": 0.03,
    "speed": 0.03,
    "drift": 0.05,
}
# A factor of so few levels is also asked whether all but one of them are bad.
_FEW_LEVELS = 6
_LEAST_SHARE = 0.002

MATERIAL = frozenset({"lot", "coil", "heat", "supplier", "cert"})


def side(factor: str) -> str:
    """Whose trouble it is: names of one delivery are one side, since parting them changes nothing at the press."""
    return "material" if factor in MATERIAL else factor


def build(context: Context) -> Candidates:
    """All columns and questions of a die, without those that too few pieces could tell, and without repeats."""
    marks, aliases = _marks(context)
    quantities = list(_quantities(context))
    maker = _Maker(context.inspected, [where for _, _, where in marks])
    for number, (factor, level, where) in enumerate(marks):
        maker.ask(factor, level, quantity=level, column=number, weight=1.0)
        if where.size and _few(context, factor):
            others = Level("all_but", level.name)
            maker.ask(factor, others, quantity=others, column=number, weight=1.0, low=True)
    for factor, quantity in quantities:
        maker.steps(factor, quantity)
    for factor, quantity in quantities:
        maker.curves(factor, quantity)
    return maker.candidates(aliases, tuple(quantities))


def _few(context: Context, factor: str) -> bool:
    return 2 < len(context.names.get(factor, ())) <= _FEW_LEVELS


Mark = tuple[str, Level, Ints]


def _marks(context: Context) -> tuple[list[Mark], dict[int, tuple[Explanation, ...]]]:
    """Rows of each level; of several names of one delivery for the very same rows the first is kept."""
    kept: list[Mark] = []
    aliases: dict[int, tuple[Explanation, ...]] = {}
    place: dict[tuple[str, bytes], int] = {}
    for factor, level, where in _level_marks(context):
        key = (side(factor), where.tobytes())
        if key in place:
            aliases[place[key]] = (*aliases.get(place[key], ()), Explanation(factor, (level,)))
        else:
            place[key] = len(kept)
            kept.append((factor, level, where))
    return kept, aliases


def _level_marks(context: Context) -> Iterator[Mark]:
    for factor, codes in context.levels.items():
        names = context.names[factor]
        known = int(np.sum(codes >= 0))
        for name, where in zip(names, _rows_of(codes, len(names)), strict=True):
            if 0 < where.size < known:
                yield factor, Level("is", name), where
    yield from _coil_marks(context)


def _coil_marks(context: Context) -> Iterator[Mark]:
    """Single coils, where their lot has others; a lot of one coil is a lot."""
    lot = context.lot
    size = np.bincount(lot)
    lots = context.names.get("lot", ())
    for name, where in zip(context.coil_names, _rows_of(context.coil, len(context.coil_names)), strict=True):
        code = int(lot[where[0]]) if where.size else 0
        if 0 < where.size < size[code]:
            yield "coil", _coil_level(name, str(lots[code]) if code < len(lots) else ""), where


def _coil_level(name: str, lot: str) -> Level:
    return Level("coil_of_lot", name, lot) if lot else Level("coil", name)


def _rows_of(codes: Ints, levels: int) -> list[Ints]:
    order = np.argsort(codes, kind="stable")
    edges = np.searchsorted(codes[order], np.arange(levels + 1))
    return [order[edges[level] : edges[level + 1]] for level in range(levels)]


def _quantities(context: Context) -> Iterator[tuple[str, shapes.Quantity]]:
    """Factor and shapes of everything measured."""
    numbers, inspected = context.numbers, context.inspected
    for name, values in numbers.items():
        if np.all(np.isnan(values)):
            continue
        if name.startswith(WEAR_PREFIX):
            yield "wear", shapes.wear(name, values, inspected, stations_of(name))
        elif name.startswith(BEFORE_PREFIX):
            # Of the same edge, so a curve of the same trouble as those over strokes since sharpening.
            edge = name.replace(BEFORE_PREFIX, WEAR_PREFIX)
            yield "wear", shapes.before_sharpening(edge, values)
        elif name.startswith(CERT_PREFIX):
            yield "cert", shapes.amount(name, values, inspected, name.removeprefix(CERT_PREFIX))
        elif name == "strokes_since_set":
            yield "since_set", shapes.since_set(name, values, inspected)
        elif name == "speed_spm":
            yield "speed", shapes.amount(name, values, inspected, "speed")
        elif name == "day":
            yield "drift", shapes.drift(name, values, inspected)
    if "head_m" in numbers and "tail_m" in numbers:
        yield "coil_position", shapes.coil_position("head_m", numbers["head_m"], numbers["tail_m"])


class _Maker:
    """Collects columns and questions; the weight of a question is what it is held likely beforehand."""

    def __init__(self, inspected: Floats, marks: list[Ints]) -> None:
        self.inspected = inspected
        self.marks = marks
        self.bins: list[Ints] = []
        self.ends: list[int] = []
        self.unknown: list[Ints] = []
        self.fill: list[float] = []
        self.columns: list[Floats] = []
        self.asked: list[tuple[str, Level, str | Level, int, bool, float]] = []

    def ask(
        self, factor: str, level: Level, *, quantity: str | Level, column: int, weight: float, low: bool = False
    ) -> None:
        """Add one question."""
        self.asked.append((factor, level, quantity, column, low, weight))

    def steps(self, factor: str, quantity: shapes.Quantity) -> None:
        """Add the steps of a quantity: a bin from each cut to the next."""
        if quantity.cuts is None:
            return
        values, cuts = quantity.values, quantity.cuts.at
        unknown = np.flatnonzero(np.isnan(values))
        pieces = np.where(np.isnan(values), 0.0, self.inspected)
        over = np.array([pieces[values >= cut].sum() for cut in cuts]) / max(pieces.sum(), 1.0)
        keep = (over > _LEAST_SHARE) & (over < 1 - _LEAST_SHARE)
        cuts, over = cuts[keep], over[keep]
        place = np.searchsorted(cuts, values, side="right") - 1
        last = len(self.bins) + cuts.size
        for number, cut in enumerate(cuts):
            column = len(self.marks) + len(self.bins)
            self.bins.append(np.flatnonzero(~np.isnan(values) & (place == number)))
            self.ends.append(last)
            self.unknown.append(unknown)
            self.fill.append(float(over[number]))
            for part, level, low in ((2, quantity.cuts.over, False), (3, quantity.cuts.under, True)):
                share = quantity.shares[part] / cuts.size
                self.ask(factor, level(float(cut)), quantity=quantity.name, column=column, weight=share, low=low)

    def curves(self, factor: str, quantity: shapes.Quantity) -> None:
        """Add the slopes of a quantity and its stretches."""
        rest = 1 - sum(quantity.shares)
        self._curves(factor, quantity, quantity.slopes, quantity.shares[0], quantity.shares[1])
        self._curves(factor, quantity, quantity.stretches, rest, 0.0)

    def _curves(
        self, factor: str, quantity: shapes.Quantity, curves: tuple[shapes.Slope, ...], high: float, low: float
    ) -> None:
        usable = [curve for curve in curves if self._tells(curve.column)]
        for curve in usable:
            column = len(self.marks) + len(self.bins) + len(self.columns)
            self.columns.append(shapes.filled(curve.column, self.inspected))
            ask = partial(self.ask, factor, quantity=quantity.name, column=column)
            ask(curve.high, weight=high / len(usable))
            if curve.low is not None:
                ask(curve.low, weight=low / len(usable), low=True)

    def _tells(self, column: Floats) -> bool:
        known = ~np.isnan(column)
        if not known.any() or np.ptp(column[known]) == 0:
            return False
        share = float(np.average(column[known], weights=self.inspected[known]))
        return _LEAST_SHARE < share < 1 - _LEAST_SHARE

    def candidates(
        self, aliases: dict[int, tuple[Explanation, ...]], quantities: tuple[tuple[str, shapes.Quantity], ...]
    ) -> Candidates:
        """Put the columns together and give each question its correction."""
        rows = self.inspected.size
        marks = _sparse(self.marks, rows)
        return Candidates(
            marks=marks,
            bins=_sparse(self.bins, rows),
            ends=np.array(self.ends, int),
            unknown=_sparse(self.unknown, rows),
            fill=np.array(self.fill),
            curves=np.column_stack(self.columns) if self.columns else np.zeros((rows, 0)),
            questions=tuple(self._questions()),
            aliases=aliases,
            quantities=quantities,
            meetings=Meetings(marks),
        )

    def _questions(self) -> Iterator[ColumnTest]:
        weight: dict[str, float] = {}
        for factor, _, _, _, _, part in self.asked:
            weight[factor] = weight.get(factor, 0.0) + part
        whole = sum(SHARE_OF_FACTOR[factor] for factor in weight)
        for factor, level, quantity, column, low, part in self.asked:
            share = SHARE_OF_FACTOR[factor] / whole * part / weight[factor]
            yield ColumnTest(factor, level, quantity=quantity, column=column, low=low, looks=1 / share)


def _sparse(rows_of_column: list[Ints], rows: int) -> sparse.csc_matrix:
    ends = np.cumsum([0] + [where.size for where in rows_of_column])
    where = np.concatenate(rows_of_column) if rows_of_column else np.zeros(0, np.int64)
    return sparse.csc_matrix((np.ones(where.size), where, ends), shape=(rows, len(rows_of_column)))
