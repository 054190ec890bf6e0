"""What a figure can be: a count that comes out below 0, or a ratio outside its range, is not known and stays empty.

Such a value means that the rows it is made of cannot all be true; `contradictions` names them.
"""

from __future__ import annotations

from collections.abc import Iterable
from types import MappingProxyType

import pandas as pd

from shared.calendar import Calendar
from shared.fields import Field, Kind
from shared.figures import Figure

#: Units of ratios; others have no upper end.
_RATIOS = ("1", "ppm")

_DTYPES = MappingProxyType({Kind.COUNT: "Int64", Kind.NUMBER: "float64", Kind.TIME: "Int64"})


def count_or_empty(counts: pd.Series) -> pd.Series:
    """Return counts as Int64, those below 0 missing."""
    whole = counts.astype("Int64")
    return whole.mask(whole < 0)


def with_known_counts(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table with `setup_pieces` and `good` missing in the rows where they cannot be what they come out as.

    Where more setting pieces were released than there were, the good pieces are not known either.
    """
    setup = count_or_empty(table["setup_pieces"])
    return table.assign(setup_pieces=setup, good=count_or_empty(table["good"]).mask(setup.isna()))


def in_range(column: pd.Series, field: Field) -> pd.Series:
    """Return a column of a figure without the counts below 0 and without ratios outside the range of their field."""
    bounded = field.kind is Kind.COUNT or (field.kind is Kind.NUMBER and field.unit in _RATIOS)
    if not bounded or field.low is None:
        return column
    return column.mask((column < field.low) | (column > (float("inf") if field.high is None else field.high)))


def typed(figure: Figure, table: pd.DataFrame) -> pd.DataFrame:
    """Return the columns of a figure in order, without what cannot be.

    Counts and times [us since 1970 UTC] are Int64, numbers float64.
    """
    table = table.reindex(columns=list(figure.names))
    counted = [column for column in figure.columns if column.kind in _DTYPES]
    table = table.astype({column.name: _DTYPES[column.kind] for column in counted}).reset_index(drop=True)
    return table.assign(**{column.name: in_range(table[column.name], column) for column in counted})


def with_local_times(figure: Figure, table: pd.DataFrame, calendar: Calendar) -> pd.DataFrame:
    """Return a figure table as it is exported: times as ISO 8601 text with the plant's offset, "" where not known."""
    return local_times(table, [column.name for column in figure.columns if column.kind is Kind.TIME], calendar)


def local_times(table: pd.DataFrame, names: Iterable[str], calendar: Calendar) -> pd.DataFrame:
    """Return a table with those of its columns [us] that are named as ISO 8601 text with the plant's offset."""
    return table.assign(**{name: calendar.local_iso(whole_us(table[name])) for name in names if name in table})


def whole_us(moments: pd.Series) -> list[int | None]:
    """Return moments [us] one by one, None where one is missing."""
    return [None if pd.isna(us) else int(us) for us in moments]
