"""What a figure table is: what one row stands for, its columns in order, and the sums that close in every row."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from shared.fields import Field


class ClosingSum(NamedTuple):
    """A column that equals the sum of others in every row."""

    whole: str
    parts: tuple[str, ...]


#: Rejected pieces that one sharpening is worth, lost press time and grind life included, unless told otherwise;
#: common practice, no source.
SHARPENING_PIECES = 2000.0


@dataclass(frozen=True)
class Figure:
    """One figure table.

    Counts are integers and add up, durations are seconds, an empty value is not known and never stands for 0.
    """

    name: str
    row_per: str
    columns: tuple[Field, ...]
    closes: tuple[ClosingSum, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Column names in order."""
        return tuple(column.name for column in self.columns)
