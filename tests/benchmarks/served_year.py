"""A ledger with a year of forty presses: one day really loaded, told again for each day before it.

The last two days come from counter readings; the facts, coils and inspections of the first of them are put down again
for every day before it, which a year of readings would only do more slowly.
"""

from __future__ import annotations

import datetime as dt
import tempfile
from pathlib import Path
from typing import Any

import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from monitor.ledger import Fold, Ledger, Snapshot, Writer
from monitor.load.files import load
from monitor.plant.book import plant_of
from shared.calendar import Calendar
from shared.facts import FACTS, FoldFacts
from tests.benchmarks.load_rate import PRESSES, write_plant

DAYS = 365
DAY_US = 86_400_000_000
MODEL = dt.date(2026, 11, 2)
"""The day that is told again; the first that `load_rate` writes."""

KG_PER_MM = 60.0 * 1.0 * 7850e-9
"""Weight of the strip that `load_rate` writes: 60 x 1 mm of steel."""

_MOMENTS = ("hour_us", "from_us", "to_us", "mounted_us", "removed_us", "time_us")
_NAMED = ("mounting_id", "coil_id", "stop_id", "inspection_id")


def write_year(root: Path, days: int = DAYS) -> None:
    """Write the ledger into a folder that does not exist yet."""
    with tempfile.TemporaryDirectory() as held, Ledger.open(root, create=True) as ledger:
        plant = Path(held)
        write_plant(plant, PRESSES * (86_400 + 50_000))
        load([plant], ledger)
        snapshot = ledger.snapshot()
        calendar = Calendar(plant_of(snapshot.plant_text()))
        with ledger.writer(calendar) as writer:
            load_id = writer.begin_load("year", "coils", "0" * 64, 0)
            for table, rows in (("coils", _coils_used(snapshot)), ("inspections", snapshot.rows("inspections"))):
                _rows_before(writer, rows, table, load_id, days)
            for press in snapshot.presses_with_strokes():
                _facts_before(writer, snapshot, press, days)
            writer.finish_load(load_id)


def _coils_used(snapshot: Snapshot) -> pa.Table:
    """Coils that were on a press that day, each as heavy as what was used of it, so that no earlier day leaves any."""
    mounts = snapshot.facts("mounts", day=MODEL.isoformat())
    used_mm = (mounts["fed"] * mounts["pitch_mm"].fillna(0)).groupby(mounts["mounting_id"]).sum()
    names = mounts[mounts["coil_id"] != ""].drop_duplicates("mounting_id")
    used_kg = dict(zip(names["coil_id"], names["mounting_id"].map(used_mm) * KG_PER_MM, strict=True))
    rows = snapshot.rows("coils")
    rows = rows.filter(pc.is_in(rows["coil_id"], pa.array(list(used_kg))))
    weights = pa.array([used_kg[name] for name in rows["coil_id"].to_pylist()], pa.float64())
    return rows.set_column(rows.schema.get_field_index("weight_kg"), "weight_kg", weights)


def _rows_before(writer: Writer, rows: pa.Table, table: str, load_id: int, days: int) -> None:
    key = "coil_id" if table == "coils" else "inspection_id"
    told = [_told_earlier(rows, key, back) for back in range(1, days)]
    whole = pa.concat_tables(told).combine_chunks()
    writer.merge(table, whole.append_column("line", pa.array(range(1, len(whole) + 1), pa.int64())), load_id)


def _told_earlier(rows: pa.Table, key: str, back: int) -> pa.Table:
    names = pc.binary_join_element_wise(rows[key], f"{back}", "~")
    told = rows.set_column(rows.schema.get_field_index(key), key, names)
    if "time" in told.column_names:
        earlier = pc.subtract(told["time"], pa.scalar(back * DAY_US, pa.duration("us")))
        told = told.set_column(told.schema.get_field_index("time"), "time", earlier)
    return told


def _facts_before(writer: Writer, snapshot: Snapshot, press: str, days: int) -> None:
    facts = {kind: _plain(snapshot.facts(kind, press_id=press, day=MODEL.isoformat())) for kind in FACTS}
    folds, rejects = [], {}
    for back in range(1, days):
        day = (MODEL - dt.timedelta(days=back)).isoformat()
        told = {
            kind: [FACTS[kind].record._make(row) for row in _earlier(columns, back)] for kind, columns in facts.items()
        }
        rejects[day] = told.pop("rejects")
        folds.append(Fold(day, FoldFacts(**told), "{}", True))
    writer.replace_folds(press, folds)
    writer.replace_rejects(press, rejects)


def _plain(frame: pd.DataFrame) -> dict[str, list[Any]]:
    """Columns of facts as the ledger takes them, without press and day."""
    rows = frame.drop(columns=["press_id", "day"])
    return {str(name): rows[name].astype(object).where(rows[name].notna(), None).tolist() for name in rows}


def _earlier(facts: dict[str, list[Any]], days: int) -> list[tuple[Any, ...]]:
    """Rows of a fact table so many days earlier; coils and stops have names of their own."""
    return list(zip(*(_column(name, values, days) for name, values in facts.items()), strict=True))


def _column(name: str, values: list[Any], days: int) -> list[Any]:
    if name == "shift_date":
        moved = {at: (dt.date.fromisoformat(at) - dt.timedelta(days=days)).isoformat() for at in set(values)}
        return [moved[at] for at in values]
    if name in _MOMENTS:
        return [None if at is None else at - days * DAY_US for at in values]
    if name in _NAMED:
        return [f"{one}~{days}" if one else one for one in values]
    return values
