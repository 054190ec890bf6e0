"""Says in words what the first rows of a file mean by a profile, so that a person can see whether it is right."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from zoneinfo import ZoneInfo

from monitor.intake.chunk import Chunk, understand
from monitor.intake.places import shown_name
from monitor.intake.profiles.model import Profile
from monitor.intake.profiles.reading import profile_rows
from shared.calendar import Calendar
from shared.fields import Field, Kind
from shared.table import Table
from shared.tables import TABLES

ROWS = 200
_LEAST_US = 1000  # less is the set-back of a counter at the start of its period
_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
_ENDINGS = ("_id", "_no", "_mm", "_kg", "_kn", "_m", "_g", "_spm", "_pct", "_mpa", "_hv", "_s", "_kg_m3", "_at")


def read_back(path: Path, profile: Profile, zone: str, rows: int = ROWS, calendar: Calendar | None = None) -> list[str]:
    """A sentence for each of the first rows of a file, times by the plant's clock; raises RefusedFile."""
    table = TABLES[profile.table]
    found: list[tuple[int, str]] = []
    outside, notes = 0, list[str]()
    for raw in profile_rows(path, profile):
        chunk = understand(raw, table, zone, shown_name(path), calendar=calendar)
        found += _sentences(chunk, table, zone)
        found += [(one.line, f"is set aside: {one.reason}") for one in raw.rejected]
        outside += raw.outside
        notes += raw.notes
        if not profile.unpivot and len(found) >= rows:
            break
    found.sort(key=lambda one: one[0])
    told = [f"row {number} (line {line}) {text}" for number, (line, text) in enumerate(found[:rows], 1)]
    return [*told, *_ending(len(found), rows, outside), *(f"note: {note}" for note in notes)]


def _ending(found: int, rows: int, outside: int) -> Iterator[str]:
    if found > rows:
        yield "and so on"
    if outside:
        yield f"rows left out so far: {outside}"


def _sentences(chunk: Chunk, table: Table, zone: str) -> list[tuple[int, str]]:
    names = [name for name in table.columns if chunk.column(name) is not None]
    columns = {name: column.to_pylist() for name in names if (column := chunk.column(name)) is not None}
    told = []
    for place, line in enumerate(chunk.line.tolist()):
        if place in chunk.faults.reasons:
            text = "is set aside: " + "; ".join(chunk.faults.reasons[place])
        else:
            cells = ((name, columns[name][place]) for name in names)
            text = "means " + ", ".join(_told(table.field(n), value, zone) for n, value in cells if value is not None)
        told.append((line, text))
    return told


def _told(field: Field, value: object, zone: str) -> str:
    if isinstance(value, dt.datetime):
        when = _when(value.astimezone(ZoneInfo(zone)))
        return when if field.name == "time" else f"{_name(field)} {when}"
    if isinstance(value, bool):
        return f"{_name(field)} {'yes' if value else 'no'}"
    if isinstance(value, int) and field.kind is Kind.COUNT:
        return f"{_name(field)} {value:,}".replace(",", " ")
    if isinstance(value, float):
        return f"{_name(field)} {value:.10g} {field.unit}".strip()
    return f"{_name(field)} {value}"


def _when(moment: dt.datetime) -> str:
    """A moment as it is spoken: 2 November 2026 06:00."""
    clock = "%H:%M:%S.%f" if moment.microsecond >= _LEAST_US else "%H:%M:%S" if moment.second else "%H:%M"
    return f"{moment.day} {_MONTHS[moment.month - 1]} {moment.strftime(f'%Y {clock}')}"


def _name(field: Field) -> str:
    ending = next((ending for ending in _ENDINGS if field.name.endswith(ending)), "")
    return field.name.removesuffix(ending).replace("_", " ")
