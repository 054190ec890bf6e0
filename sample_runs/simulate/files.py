"""Write the tables of an invented plant the way a plant hands them over."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from sample_runs.simulate import clock
from sample_runs.simulate.book import Coil, PlantPlan
from sample_runs.simulate.logger import LoggedReadings
from sample_runs.simulate.script import CoilChangeNote, DieChangeNote, Script

UTC, OFFSET, LOCAL = "utc", "offset", "local"


def time_text(seconds: Sequence[int] | np.ndarray, zone: str, style: str, settle: bool = True) -> list[str]:
    """Times as text: in UTC, in plant time with its offset, or in plant time without one.

    With `settle`, a plant time that the clock shows twice keeps its offset even in the style without.
    """
    seconds = np.asarray(seconds, dtype=np.int64)
    if style == UTC:
        return [text + "Z" for text in np.datetime_as_string(seconds.astype("datetime64[s]"))]
    offsets = clock.offsets_s(zone, seconds)
    wall = np.datetime_as_string((seconds + offsets).astype("datetime64[s]"))
    if style == LOCAL:
        marked = _shown_twice(zone, seconds, offsets) if settle else np.zeros(len(seconds), dtype=bool)
    else:
        marked = np.ones(len(seconds), dtype=bool)
    return [
        text + _offset_text(int(offset)) if mark else str(text)
        for text, offset, mark in zip(wall, offsets, marked, strict=True)
    ]


def _shown_twice(zone: str, seconds: np.ndarray, offsets: np.ndarray) -> np.ndarray:
    """Whether the wall clock also shows that time an hour earlier or later (clocks change by an hour)."""
    before, after = clock.offsets_s(zone, seconds - 3600), clock.offsets_s(zone, seconds + 3600)
    return np.asarray((before - offsets == 3600) | (offsets - after == 3600))


def _offset_text(offset_s: int) -> str:
    sign, minutes = ("-" if offset_s < 0 else "+"), abs(offset_s) // 60
    return f"{sign}{minutes // 60:02d}:{minutes % 60:02d}"


def write_csv(path: Path, rows: pd.DataFrame) -> None:
    """Write a CSV with plain line ends; a missing value is an empty cell."""
    rows.to_csv(path, index=False, lineterminator="\n")


def write_parquet(path: Path, rows: pd.DataFrame, time_columns: Sequence[str] = ("time",)) -> None:
    """Write a Parquet file; time columns come as seconds since 1970 UTC and go out as UTC timestamps."""
    table = pa.Table.from_pandas(rows, preserve_index=False)
    for name in time_columns:
        stamps = pa.array(rows[name].to_numpy(dtype=np.int64) * 1_000_000, pa.timestamp("us", "UTC"))
        table = table.set_column(table.column_names.index(name), name, stamps)
    pq.write_table(table.replace_schema_metadata(None), path)


def strokes_frame(press_id: str, readings: LoggedReadings) -> pd.DataFrame:
    """Rows of `strokes` with `time` in seconds since 1970 UTC."""
    columns = {"time": readings.time_s, "press_id": press_id, "counter": readings.counter}
    if readings.feeds is not None:
        columns["feeds"] = readings.feeds
    return pd.DataFrame(columns)


def write_plant_toml(path: Path, book: PlantPlan) -> None:
    """Write `plant.toml`."""
    lines = [
        f'name = "{book.name}"',
        f'timezone = "{book.timezone}"',
        'week_start = "mon"',
        f"stop_after_s = {book.stop_after_s:g}",
    ]
    for shift in book.shifts:
        lines += _section("shift", name=shift.name, start=shift.start, end=shift.end)
        lines.append(f"days = {json.dumps(shift.days)}")
        if shift.presses:
            lines.append(f"presses = {json.dumps(shift.presses)}")
    for gap in book.breaks:
        lines += _section("break", shift=gap.shift, start=gap.start, end=gap.end)
    for day in book.closed:
        lines += ["", "[[closed]]", f"date = {day}"]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _section(heading: str, /, **values: str) -> list[str]:
    return ["", f"[[{heading}]]", *(f"{key} = {json.dumps(value)}" for key, value in values.items())]


def book_tables(book: PlantPlan) -> dict[str, pd.DataFrame]:
    """The plant book's tables of presses, dies, stations, outs, parts and materials."""
    presses = pd.DataFrame([asdict(press) for press in book.presses]).drop(columns="feeds")
    dies = pd.DataFrame([asdict(die) | {"parts_per_stroke": len(die.outs)} for die in book.dies])
    stations = [
        (die.die_id, number, operation) for die in book.dies for number, operation in enumerate(die.operations, start=1)
    ]
    outs = [
        (die.die_id, number, out.part_no, out.station)
        for die in book.dies
        if die.outs_listed
        for number, out in enumerate(die.outs, start=1)
    ]
    return {
        "presses": presses.astype({"counter_modulus": "Int64"}),
        "dies": dies.drop(columns=["operations", "outs", "outs_listed"]).astype({"sharpen_every_strokes": "Int64"}),
        "stations": pd.DataFrame(stations, columns=["die_id", "station", "operation"]),
        "outs": pd.DataFrame(outs, columns=["die_id", "out", "part_no", "station"]),
        "parts": pd.DataFrame([asdict(part) for part in book.parts]),
        "materials": pd.DataFrame(list(book.densities_kg_m3.items()), columns=["material", "density_kg_m3"]),
    }


def coils_frame(coils: Sequence[Coil]) -> pd.DataFrame:
    """Rows of `coils`, details behind the fixed columns."""
    return pd.DataFrame([asdict(replace(coil, details={})) | coil.details for coil in coils]).drop(columns="details")


def event_tables(scripts: Sequence[Script]) -> dict[str, pd.DataFrame]:
    """`coil_changes`, `die_changes` and `stops` of all presses, times in seconds since 1970 UTC."""
    events = [(script.press_id, event) for script in scripts for event in script.events]
    coil = [_event_row(press_id, event) for press_id, event in events if isinstance(event, CoilChangeNote)]
    die = [_event_row(press_id, event) for press_id, event in events if isinstance(event, DieChangeNote)]
    stops = [
        {"press_id": script.press_id, "start_at": stood.from_s, "end_at": stood.to_s, "reason": stood.reason}
        for script in scripts
        for stood in script.standings
    ]
    return {"coil_changes": pd.DataFrame(coil), "die_changes": pd.DataFrame(die), "stops": pd.DataFrame(stops)}


def _event_row(press_id: str, event: CoilChangeNote | DieChangeNote) -> dict[str, object]:
    row = asdict(event)
    if "outs_running" in row:
        row["outs_running"] = ";".join(str(out) for out in row["outs_running"])
    return {"time": row.pop("at_s"), "press_id": press_id, **row}


TIME_COLUMNS = (
    *("time", "placed_at", "reported_at", "shipped_at", "started_at", "opened_at", "start_at"),
    *("ended_at", "end_at", "due_at", "closed_at", "lifted_at", "made_from", "made_to"),
)


def as_written(frame: pd.DataFrame, zone: str, style: str) -> pd.DataFrame:
    """The frame in order of its first time column, with times (seconds since 1970 UTC) as text."""
    columns = [name for name in TIME_COLUMNS if name in frame]
    if not columns:
        return frame
    frame = frame.sort_values(columns[0], kind="stable", ignore_index=True)
    for name in columns:
        known = frame[name].notna()
        text = np.full(len(frame), "", dtype=object)
        text[known] = time_text(frame.loc[known, name].to_numpy(np.int64), zone, style)
        frame[name] = text
    return frame
