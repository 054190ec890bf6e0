"""Inspections with their rows, and what they were booked to."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from functools import cached_property

import pandas as pd

from monitor.book import Record
from monitor.figures.contradictions.found import Names, named
from monitor.ledger import Placed, Snapshot
from shared.calendar import Calendar

_DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class Look:
    """One inspection: its rows, and the reject facts that were booked for it."""

    rows: tuple[Placed, ...]
    facts: pd.DataFrame = field(compare=False)

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
    def dies(self) -> Names:
        """The dies whose pieces it was booked to."""
        return named(*self.facts["die_id"])

    @cached_property
    def parts(self) -> Names:
        """The parts that it names or was booked to."""
        return named(*self.facts["part_no"], self.row["part_no"])

    @cached_property
    def coils(self) -> Names:
        """The coils whose pieces it was booked to; a mounting is named by coil, press and moment."""
        return named(*(str(name).rsplit("@", 2)[0] for name in set(self.facts["mounting_id"])))


def looks_of(snapshot: Snapshot, calendar: Calendar, rows: Iterable[Placed]) -> dict[str, Look]:
    """Return inspections by their ids, from their rows."""
    grouped: dict[str, list[Placed]] = defaultdict(list)
    for row in rows:
        grouped[row.row["inspection_id"]].append(row)
    booked = _booked(snapshot, calendar, [some[0].row for some in grouped.values()])
    none = snapshot.facts("rejects", where=("press_id", ()))
    return {name: Look(tuple(some), booked.get(name, none)) for name, some in sorted(grouped.items())}


def _booked(snapshot: Snapshot, calendar: Calendar, rows: Collection[Record]) -> dict[str, pd.DataFrame]:
    """Return the reject facts of inspections, which stand under the day of the inspection."""
    days: dict[str, set[dt.date]] = defaultdict(set)
    for row in rows:
        days[row["press_id"]].add(calendar.plant_day(row["time"]))
    found: dict[str, pd.DataFrame] = {}
    for press_id, some in days.items():
        for first, last in _runs(some):
            facts = snapshot.facts("rejects", press_id=press_id, folded=(first, last + _DAY))
            found |= {str(name): mine for name, mine in facts.groupby("inspection_id")}
    return found


def _runs(days: Iterable[dt.date]) -> list[tuple[dt.date, dt.date]]:
    """Join days that follow one another."""
    found: list[tuple[dt.date, dt.date]] = []
    for day in sorted(days):
        if found and day - found[-1][1] <= _DAY:
            found[-1] = (found[-1][0], day)
        else:
            found.append((day, day))
    return found
