"""Mountings of coils as rows: when strip went on a press, how much was used, what it weighs and when it ran out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from monitor.plant.book import Book

Record = Mapping[str, Any]

MM_PER_M = 1000
_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)

#: Strip beyond a coil's length by weight that weighing and thickness can explain; common practice, no source.
LENGTH_TOLERANCE = 0.05

#: Begins the name of strip of no known coil; a mounting begins with its coil.
UNKNOWN = "@"


def by_press(facts: pd.DataFrame) -> pd.DataFrame:
    """Name the strip of no known coil by its press, so that the strip of several presses is not taken for one."""
    named = facts["mounting_id"].mask(facts["mounting_id"] == "", UNKNOWN + facts["press_id"])
    return facts.assign(mounting_id=named)


def mountings(mounts: pd.DataFrame) -> pd.DataFrame:
    """Sum mount facts by mounting: when it began and ended [us], weighings [kg], progressions, strip used [m]."""
    used = mounts.assign(used_mm=mounts["fed"] * mounts["pitch_mm"].fillna(0) + mounts["lost_mm"])
    table = used.groupby("mounting_id", sort=False).agg(
        coil_id=("coil_id", "max"),
        press_id=("press_id", "first"),
        mounted_us=("mounted_us", "min"),
        removed_us=("removed_us", "max"),
        start_weighed_kg=("start_weighed_kg", "max"),
        end_weighed_kg=("end_weighed_kg", "max"),
        strokes=("fed", "sum"),
        finished=("finished", "sum"),
        used_mm=("used_mm", "sum"),
    )
    table["dies"] = table["die_id"] = _dies(used)
    table["pitch_mm"], table["finished_pitch_mm"] = _pitch(used, "fed"), _pitch(used, "finished")
    return table.sort_values(["mounted_us", "mounting_id"], na_position="first", kind="stable").reset_index()


def _pitch(used: pd.DataFrame, progressions: str) -> pd.Series:
    """Return, by mounting, the pitch [mm] of its progressions fed or finished: where dies differ in it, the mean."""
    ran = used[used[progressions] > 0]
    by_mounting = ran.assign(mm=ran[progressions] * ran["pitch_mm"]).groupby("mounting_id", sort=False)
    pitch = by_mounting["pitch_mm"]
    mean = by_mounting["mm"].sum(min_count=1) / by_mounting[progressions].sum()
    return pitch.max().where(pitch.nunique() < 2, mean)


def _dies(used: pd.DataFrame) -> pd.Series:
    """Return, by mounting, the dies that its strip was fed into, in order, as a tuple."""
    pairs = used.loc[used["fed"] > 0, ["mounting_id", "die_id"]].drop_duplicates()
    dies: dict[str, tuple[str, ...]] = {}
    for mounting_id, die_id in zip(pairs["mounting_id"], pairs["die_id"], strict=True):
        dies[mounting_id] = (*dies.get(mounting_id, ()), die_id)
    return pd.Series(dies, dtype=object)


def with_material(table: pd.DataFrame, book: Book, reels: Mapping[str, Record]) -> pd.DataFrame:
    """Add lot, heat, supplier, material and weight of a metre of strip [kg/m] to each mounting."""
    coils = book.coils
    rows = [coils.get(coil_id) or reels.get(coil_id) or {} for coil_id in table["coil_id"]]
    for name in ("lot", "heat", "supplier", "material"):
        table[name] = pd.Series([row.get(name) or "" for row in rows], index=table.index, dtype="str")
    table["received_kg"] = [row.get("weight_kg") for row in rows]
    days = [_day(book, us, row) for us, row in zip(table["mounted_us"], rows, strict=True)]
    table["kg_per_m"] = [metre_kg(row, book, day) for row, day in zip(rows, days, strict=True)]
    return table.astype({"received_kg": float, "kg_per_m": float})


def _day(book: Book, mounted_us: float, coil: Record) -> dt.date:
    return received_on(book, coil) if pd.isna(mounted_us) else book.day_of(int(mounted_us))


def received_on(book: Book, coil: Record, else_day: dt.date = dt.date.min) -> dt.date:
    """Return the plant day on which a coil came in, or another day where that is not known."""
    received = coil.get("received_at")
    if isinstance(received, dt.datetime):
        received = (received - _EPOCH) // dt.timedelta(microseconds=1)
    return else_day if received is None else book.day_of(received)


def metre_kg(coil: Record, book: Book, day: dt.date) -> float:
    """Return `kg_per_m` by the density that the plant book had on a day [kg/m]."""
    material = coil.get("material") or ""
    density = book.row("materials", day, material).get("density_kg_m3")
    return kg_per_m(coil, {} if density is None else {material: density})


def kg_per_m(coil: Record, density_kg_m3: Mapping[str, float]) -> float:
    """Return the weight of a metre of strip [kg/m]: density x width x thickness; missing where one is not known."""
    density = density_kg_m3.get(coil.get("material") or "")
    if density is None or coil.get("width_mm") is None or coil.get("thickness_mm") is None:
        return float("nan")
    return float(density * coil["width_mm"] / MM_PER_M * coil["thickness_mm"] / MM_PER_M)


def with_start(table: pd.DataFrame) -> pd.DataFrame:
    """Add what each mounting began with [kg]: weighed then, else what was left, else received."""
    used_kg = table["used_mm"] / MM_PER_M * table["kg_per_m"]
    weights = (table["start_weighed_kg"], table["received_kg"], table["end_weighed_kg"], used_kg)
    columns = [weight.to_numpy(np.float64).tolist() for weight in weights]
    left: dict[str, float] = {}
    starts, remaining = [], []
    for coil_id, weighed, received, end_weighed, used in zip(table["coil_id"].astype(str), *columns, strict=True):
        start = _first(weighed, left.get(coil_id, np.nan), received)
        rest = _first(end_weighed, float(np.maximum(0.0, start - used)))
        starts.append(start)
        remaining.append(rest)
        left[coil_id] = rest
    return table.assign(start_kg=starts, remaining_kg=remaining)


def _first(*values: float) -> float:
    return next((value for value in values if not np.isnan(value)), float("nan"))


def run_out(table: pd.DataFrame) -> pd.Series:
    """Return, by mounting, the progressions after which the strip cannot have been this coil's any more."""
    length_mm = table["start_kg"] / table["kg_per_m"] * MM_PER_M
    over = table["used_mm"] > length_mm * (1 + LENGTH_TOLERANCE)
    limit = np.floor((length_mm / table["pitch_mm"]).to_numpy(np.float64))
    return pd.Series(limit, index=table["mounting_id"])[over.to_numpy()].dropna().astype("int64")
