"""Inspections with their rows, and what they were booked to."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property

import pandas as pd

from monitor.figures.contradictions.found import Names, named
from monitor.ledger import Placed, Snapshot
from monitor.plant.book import Record
from shared.calendar import Calendar


class BookedRejects:
    """The reject facts of inspections, read when they are first asked for, a press and day at a time."""

    def __init__(self, snapshot: Snapshot, calendar: Calendar) -> None:
        self._snapshot = snapshot
        self._calendar = calendar
        self._days: dict[tuple[str, dt.date], pd.DataFrame] = {}

    def of(self, look: Record) -> pd.DataFrame:
        """Return the facts of an inspection, which stand under the plant day on which it was made."""
        press_id, day = look["press_id"], self._calendar.plant_day(look["time"])
        if (press_id, day) not in self._days:
            self._days[press_id, day] = self._snapshot.facts("rejects", press_id=press_id, day=day.isoformat())
        facts = self._days[press_id, day]
        mine: pd.DataFrame = facts[facts["inspection_id"] == look["inspection_id"]]
        return mine


@dataclass(frozen=True)
class InspectionRecord:
    """One inspection: its rows, and where to read what it was booked to."""

    rows: tuple[Placed, ...]
    booked: BookedRejects = field(compare=False)

    @property
    def row(self) -> Record:
        """What all its rows have in common."""
        return self.rows[0].row

    @property
    def name(self) -> str:
        """Its id."""
        return str(self.row["inspection_id"])

    @property
    def press_id(self) -> str:
        """The press it speaks of."""
        return str(self.row["press_id"])

    @property
    def time_us(self) -> int:
        """When it was made [us]."""
        return int(self.row["time"])

    @property
    def rejected(self) -> int:
        """All pieces it rejects, of whatever cause."""
        return sum(row.row["rejected"] or 0 for row in self.rows)

    @cached_property
    def facts(self) -> pd.DataFrame:
        """What it was booked to."""
        return self.booked.of(self.row)

    @property
    def dies(self) -> Names:
        """The dies whose pieces it was booked to."""
        return named(*self.facts["die_id"])

    @property
    def parts(self) -> Names:
        """The parts that it names or was booked to."""
        return named(*self.facts["part_no"], self.row["part_no"])

    @property
    def coils(self) -> Names:
        """The coils whose pieces it was booked to; a mounting is named by coil, press and moment."""
        return named(*(str(name).rsplit("@", 2)[0] for name in set(self.facts["mounting_id"])))


def inspections_by_id(rows: Iterable[Placed], booked: BookedRejects) -> dict[str, InspectionRecord]:
    """Return inspections by their ids, from their rows."""
    grouped: dict[str, list[Placed]] = defaultdict(list)
    for row in rows:
        grouped[row.row["inspection_id"]].append(row)
    return {name: InspectionRecord(tuple(some), booked) for name, some in sorted(grouped.items())}
