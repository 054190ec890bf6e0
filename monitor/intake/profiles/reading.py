"""Reads a file by its profile: raw rows under the names of the contract, and what was left out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from monitor.intake.chunk import Raw
from monitor.intake.places import shown_name
from monitor.intake.profiles.columns import Columns
from monitor.intake.profiles.heads import Head, open_file
from monitor.intake.profiles.limits import Limits, differences
from monitor.intake.profiles.model import Profile
from monitor.intake.profiles.moments import order_of
from monitor.intake.profiles.shaping import Shaper, unpivoted
from shared.fields import Kind
from shared.table import Table
from shared.tables import TABLES


def profile_rows(path: Path, profile: Profile, limits: Limits | None = None) -> Iterator[Raw]:
    """The rows of a file, a block at a time, at least one; raises RefusedFile where the file does not fit.

    `limits` are those of the plant book by part and characteristic; those that stand in the file are compared.
    """
    table = TABLES[profile.table]
    order = _date_order(path, profile, table)
    head, rows = open_file(path, profile)
    columns = Columns(head, profile, table, order, shown_name(path))
    outside, told = head.outside, set[str]()
    for block in Shaper(head, profile).grids(rows):
        for grid in unpivoted(block, profile, head.names):
            raw = columns.raw(grid)
            notes = [note for note in _compared(raw, head, profile, limits or {}) if note not in told]
            told.update(notes)
            yield replace(raw, outside=raw.outside + outside, notes=(*raw.notes, *notes))
            outside = 0


def _date_order(path: Path, profile: Profile, table: Table) -> str:
    """Order of day and month: that of the profile, else what the whole file shows; raises RefusedFile."""
    if profile.time.date_order or profile.time.serial1900:
        return profile.time.date_order
    timed = [name for name in profile.columns if table.field(name).kind in (Kind.TIME, Kind.DATE)]
    firsts = {profile.columns[name].source[0] for name in timed if profile.columns[name].source}
    head, rows = open_file(path, profile)
    blocks = Shaper(head, profile).grids(rows)
    return order_of((c for b in blocks for name in firsts for c in b.columns.get(name, []) if c), shown_name(path))


def _compared(raw: Raw, head: Head, profile: Profile, limits: Limits) -> list[str]:
    names = raw.cells.schema.names
    if not head.limits or not profile.unpivot or not {"part_no", "characteristic"} <= set(names):
        return []
    rows = zip(*(raw.cells.column(name).to_pylist() for name in ("part_no", "characteristic")), strict=True)
    written = {}
    for heading, text in head.limits.items():
        column = profile.columns["characteristic"]
        written[column.map.get(heading, heading)] = text
    return differences(dict.fromkeys(rows), written, limits, profile.file)
