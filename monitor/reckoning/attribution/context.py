"""What was inspected under which circumstances, once for all causes of a die."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from monitor.reckoning.attribution.dispersion import Grouping
from shared.factors import Setting

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Text columns by the factor they speak for; the order is that of the answer.
LEVEL_COLUMNS = {
    "lot": "lot",
    "heat": "heat",
    "supplier": "supplier",
    "press": "press_id",
    "shift": "shift",
    "setup": "setup_id",
}
NUMBER_COLUMNS = (
    "day",
    "head_m",
    "tail_m",
    "strokes_since_set",
    "speed_spm",
)
WEAR_PREFIX = "strokes_since_sharpening"
BEFORE_PREFIX = "strokes_before_sharpening"
CERT_PREFIX = "cert_"
# Stretches of time that may be alike: short ones, few enough to hold more than one lot each, and long ones, since
# what wanders slowly makes short ones alike too and would else pass for a drift.  Common practice, no source.
_STRETCHES = (24, 10)


@dataclass(frozen=True)
class Context:
    """Rows with pieces looked at: one a stretch of pieces of one inspection, from one coil in one die state.

    `inspected` [pieces]; `levels` and `coil` hold a code a row, -1 where not known, with `names` to read them;
    `numbers` holds the measured circumstances, NaN where not known; `kept` are the positions of the rows.
    """

    inspected: Floats
    kept: Ints
    coil: Ints
    coil_names: tuple[str, ...]
    levels: dict[str, Ints]
    names: dict[str, tuple[str | Setting, ...]]
    numbers: dict[str, Floats]

    @property
    def lot(self) -> Ints:
        """Lot a row, or its coil where no lot is known, so that pieces of one delivery are never independent."""
        lots = self.levels.get("lot", np.full(self.inspected.size, -1))
        return np.where(lots >= 0, lots, len(self.names.get("lot", ())) + self.coil)

    @cached_property
    def groupings(self) -> tuple[Grouping, ...]:
        """Rows that may be alike for reasons nobody noted: of a coil, a lot, a short and a long stretch of time."""
        by_lot = Grouping.of(self.lot, self.coil)
        groups = (Grouping.of(self.coil, np.arange(self.coil.size)), by_lot)
        if "day" not in self.numbers:
            return groups
        stretches = [_stretches(self.numbers["day"], self.inspected, number) for number in _STRETCHES]
        return (*groups, *(Grouping.of(stretch, by_lot.outer) for stretch in stretches))


def build(rows: pd.DataFrame) -> Context:
    """Take the circumstances from a frame of inspections.

    `rows` has `inspected` [pieces] and any of lot, coil_id, heat, supplier, press_id, shift, setup_id (text, that one a
    `Setting` too; "" = not known), day [days], head_m, tail_m [m], strokes_since_sharpening (also with a station at the
    end, such as strokes_since_sharpening_4), strokes_before_sharpening (likewise: strokes seen so far where those since
    sharpening are not known), strokes_since_set [strokes], speed_spm [1/min], cert_* (NaN = not known).  Rows without
    pieces are left out.  Raises ValueError without `inspected`.
    """
    if "inspected" not in rows:
        raise ValueError("the rows have no column inspected; expected the pieces looked at in each row")
    pieces = rows["inspected"].to_numpy(float)
    kept = np.flatnonzero(pieces > 0)
    levels, names = {}, {}
    for factor, column in LEVEL_COLUMNS.items():
        if column in rows:
            levels[factor], names[factor] = _codes(rows[column], kept)
    coil, coils = _codes(rows["coil_id"], kept) if "coil_id" in rows else (_each(kept.size), ())
    coil_names = tuple(map(str, coils))
    # A coil not known is a coil of its own in every row: nothing says that two rows belong together.
    coil = np.where(coil >= 0, coil, len(coil_names) + np.arange(kept.size))
    numbers = {name: rows[name].to_numpy(float)[kept] for name in _number_columns(rows)}
    return Context(pieces[kept], kept, coil=coil, coil_names=coil_names, levels=levels, names=names, numbers=numbers)


def _stretches(day: Floats, inspected: Floats, number: int) -> Ints:
    """Cut time into so many stretches of about equal pieces, never inside a day; days not known make one stretch."""
    _, codes = np.unique(np.where(np.isnan(day), -np.inf, day), return_inverse=True)
    reached = np.cumsum(np.bincount(codes, inspected)) - np.bincount(codes, inspected)
    stretch: Ints = np.minimum(reached * number / inspected.sum(), number - 1).astype(np.int64)
    return stretch[codes]


def _each(size: int) -> Ints:
    return np.full(size, -1)


def _codes(column: pd.Series, kept: Ints) -> tuple[Ints, tuple[str | Setting, ...]]:
    """Code of each row, in the order of the names as text, and the names."""
    values = column.iloc[kept].fillna("")
    text = values.astype(str)
    codes, uniques = pd.factorize(text.where(text != ""), sort=True)
    _, first = np.unique(codes[codes >= 0], return_index=True)
    known = values.to_numpy(object)[codes >= 0][first]
    names = (name if isinstance(name, Setting) else str(told) for name, told in zip(known, uniques, strict=True))
    return codes.astype(np.int64), tuple(names)


def _number_columns(rows: pd.DataFrame) -> list[str]:
    return [name for name in map(str, rows.columns) if _is_number(name)]


def stations_of(column: str) -> tuple[int, ...]:
    """Stations that the name of a column of strokes since or before sharpening ends with; none = all that cut."""
    edges = column.removeprefix(WEAR_PREFIX).removeprefix(BEFORE_PREFIX)
    return tuple(int(number) for number in edges.split("_") if number)


def is_circumstance(name: str) -> bool:
    """Whether a column of the rows is read at all."""
    return name in ("inspected", "coil_id", *LEVEL_COLUMNS.values()) or _is_number(name)


def _is_number(name: str) -> bool:
    return name in NUMBER_COLUMNS or name.startswith((WEAR_PREFIX, BEFORE_PREFIX, CERT_PREFIX))
