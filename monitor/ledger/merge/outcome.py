"""What became of the rows of a batch, and why a row that contradicts a stored one was not taken."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from monitor.ledger.catalog.values import Value
from monitor.ledger.merge.accounts import Move
from shared.phrases import Phrase, joined, phrase
from shared.reasons.expected import NOTHING
from shared.reasons.rows import CONTRADICTS_ROW, DIFFERENT_VALUE


class Demoted(NamedTuple):
    """A row that was taken from an earlier load and contradicts one of a file that comes before: it is set aside now.

    `row` holds its columns as SQL holds them.
    """

    load_id: int
    line: int
    reason: Phrase
    row: Mapping[str, Value]


@dataclass
class Recounted:
    """Rows of earlier loads that count otherwise than before: how many of which load, and which are set aside now.

    `back` are rows (load, line) that are set aside no longer, `told` rows with another reason than they had.
    """

    moves: Counter[Move] = field(default_factory=Counter)
    aside: list[Demoted] = field(default_factory=list)
    back: list[tuple[int, int]] = field(default_factory=list)
    told: list[tuple[int, int, Phrase]] = field(default_factory=list)

    def add(self, other: Recounted) -> None:
        """Add what other rows came to."""
        self.moves += other.moves
        self.aside += other.aside
        self.back += other.back
        self.told += other.told


@dataclass
class Merge:
    """Counts of a merge; rows read = new + repeated + corrected + conflicts.

    `conflicts` holds (line, reason) of each row to be set aside, `again` the lines that repeat one that is, `earlier`
    what rows of earlier loads came to.  `press_days` holds each press and plant day that holds other rows than before,
    `earliest_us` the earliest time of a row that came or went, None where rows have no time.  `taken` tells how many
    rows are stored now that were not; `gone` are rows of a small table that are stored no more.
    """

    new: int = 0
    repeated: int = 0
    corrected: int = 0
    conflicts: list[tuple[int, Phrase]] = field(default_factory=list)
    again: list[int] = field(default_factory=list)
    earlier: Recounted = field(default_factory=Recounted)
    press_days: set[tuple[str, dt.date]] = field(default_factory=set)
    earliest_us: int | None = None
    taken: int = 0
    gone: list[Mapping[str, Value]] = field(default_factory=list)

    def add_press_day(self, press_id: str, day: dt.date) -> None:
        """Note a press-day whose rows changed."""
        self.press_days.add((press_id, day))

    def reach_back(self, us: int) -> None:
        """Note the time of a row that came or went."""
        self.earliest_us = us if self.earliest_us is None else min(self.earliest_us, us)


def conflict(differences: Mapping[str, tuple[object, object]], file: str, line: int) -> Phrase:
    """Reason for a row that contradicts one of a file: column -> (value seen, value there)."""
    told = joined(
        (
            phrase(DIFFERENT_VALUE, column=name, seen=_shown(seen), stored=_shown(stored))
            for name, (seen, stored) in differences.items()
        ),
        ", ",
    )
    return phrase(CONTRADICTS_ROW, file=file, line=line, differences=told)


def _shown(value: object) -> str:
    return phrase(NOTHING) if value is None or value == "" else str(value)
