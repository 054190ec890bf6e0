"""Rows, calendars and loads for the ledger tests."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Iterable, Mapping
from typing import Any

import pyarrow as pa

from monitor.ledger import Ledger, Merge, Snapshot
from shared.arrow import ARROW_TYPES
from shared.calendar import Calendar
from shared.plant import Plant
from shared.tables import TABLES

PLANT = """
timezone = "Europe/Berlin"
[[shift]]
name = "early"
start = "06:00"
end = "14:00"
[[shift]]
name = "late"
start = "14:00"
end = "22:00"
[[shift]]
name = "night"
start = "22:00"
end = "06:00"
"""
CALENDAR = Calendar(Plant.from_toml(PLANT))
DAY = dt.date(2026, 11, 2)
START_US = CALENDAR.day_start_us(DAY)
SECOND_US = 1_000_000

_digests = itertools.count()


def rows(table: str, records: Iterable[Mapping[str, Any]]) -> pa.Table:
    """Rows of a table from records; lines are numbered from 2 where they name none."""
    numbered = [{"line": line, **record} for line, record in enumerate(records, 2)]
    columns = [name for name in TABLES[table].columns if any(name in record for record in numbered)]
    kinds = {name: ARROW_TYPES[TABLES[table].field(name).kind] for name in columns} | {"line": pa.int64()}
    return pa.table({name: pa.array([r.get(name) for r in numbered], kind) for name, kind in kinds.items()})


def strokes(*readings: tuple[int, int], press_id: str = "P01", recorded_s: int | None = None) -> pa.Table:
    """Readings (second after the start of the day, counter) of a press."""
    records = [{"press_id": press_id, "time": START_US + s * SECOND_US, "counter": counter} for s, counter in readings]
    if recorded_s is not None:
        records = [{**record, "recorded_at": START_US + recorded_s * SECOND_US} for record in records]
    return rows("strokes", records)


def load(
    ledger: Ledger, table: str, batch: pa.Table, *more: pa.Table, correct: bool = False, file: str = "", **how: Any
) -> Merge:
    """Load batches as one file, one named later stands later; returns what became of all of them."""
    total = Merge()
    with ledger.writer(CALENDAR) as writer:
        number = next(_digests)
        file = file or f"{table}-{number:05}.csv"
        load_id = writer.begin_load(file, table, f"digest {number}", 1, correct=correct)
        for some in (batch, *more):
            merged = writer.merge(table, some, load_id, **how)
            total.new += merged.new
            total.repeated += merged.repeated
            total.corrected += merged.corrected
            total.conflicts += merged.conflicts
            total.press_days |= merged.press_days
            if merged.earliest_us is not None:
                total.reach_back(merged.earliest_us)
            writer.recount({move: count for move, count in merged.earlier.moves.items() if move[0] != load_id})
        new, repeated, corrected, set_aside = counts(total)
        writer.finish_load(load_id, new=new, repeated=repeated, corrected=corrected, set_aside=set_aside)
    return total


def counts(merge: Merge) -> tuple[int, int, int, int]:
    """New, repeated, corrected and set aside."""
    return merge.new, merge.repeated, merge.corrected, len(merge.conflicts)


def readings(snapshot: Snapshot, press_id: str = "P01") -> list[tuple[int, int]]:
    """Readings (second after the start of the day, counter) that a snapshot has of a press."""
    held = snapshot.strokes(press_id)
    times = held.column("time").cast(pa.int64()).to_pylist()
    return [
        ((us - START_US) // SECOND_US, counter) for us, counter in zip(times, held["counter"].to_pylist(), strict=True)
    ]
