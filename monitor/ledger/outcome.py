"""What became of the rows of a batch, and why a row that contradicts a stored one was not taken."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from shared.phrases import key, phrase

_CONTRADICTS = key(
    "contradicts the stored row (load {load}, line {line}): {differences}; "
    "expected the same values, a later recorded_at or --correct"
)


@dataclass
class Merge:
    """Counts of a merge; rows read = new + repeated + corrected + conflicts.

    `conflicts` holds (line, reason) of each row to be set aside, `touched` each press and plant day that holds other
    rows than before, `earliest_us` the earliest time of a row that came or went, None where rows have no time.
    """

    new: int = 0
    repeated: int = 0
    corrected: int = 0
    conflicts: list[tuple[int, str]] = field(default_factory=list)
    touched: set[tuple[str, dt.date]] = field(default_factory=set)
    earliest_us: int | None = None

    def touch(self, press_id: str, day: dt.date) -> None:
        """Note a press-day whose rows changed."""
        self.touched.add((press_id, day))

    def reach_back(self, us: int) -> None:
        """Note the time of a row that came or went."""
        self.earliest_us = us if self.earliest_us is None else min(self.earliest_us, us)


def conflict(differences: Mapping[str, tuple[object, object]], load_id: int, line: int) -> str:
    """Reason for a row that contradicts a stored one: column -> (value seen, value stored)."""
    told = ", ".join(
        phrase("{column} {seen} instead of {stored}", column=name, seen=_shown(seen), stored=_shown(stored))
        for name, (seen, stored) in differences.items()
    )
    return phrase(_CONTRADICTS, load=load_id, line=line, differences=told)


def _shown(value: object) -> str:
    return phrase("nothing") if value is None or value == "" else str(value)
