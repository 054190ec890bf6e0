"""Write the sample fortnight the way its plant hands it over: some tables with offsets, some without, some Parquet."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from sample_runs.simulate import clock, files
from sample_runs.simulate.fortnight import papers as fortnight_papers
from sample_runs.simulate.fortnight import truth as fortnight_truth
from sample_runs.simulate.fortnight.book import BOOK, CAUSES, CHARACTERISTICS, REASONS, ZONE
from sample_runs.simulate.fortnight.checks import PlayedPress, inspect
from sample_runs.simulate.fortnight.plan import Fortnight, at, run
from sample_runs.simulate.logger import LoggedReadings

STROKE_STYLES = {"P1": files.OFFSET, "P3": files.LOCAL, "P4": files.UTC}
STYLES = {"die_changes": files.LOCAL, "stops": files.LOCAL, "orders": files.LOCAL, "measurements": files.UTC}
BY_WEEK = ("coil_changes", "stops", "inspections")
FIRST_DAY = np.datetime64("2026-10-19")
PARQUET = ("containers", "measurements")
REPORT = """
[report]
address = ["Press Lane 1", "Sampletown"]

[[report.customer]]
customer = "Customer A"
day = "mon"

[[report.customer]]
customer = "Customer B"
day = "mon"
language = "de"

[[report.customer]]
customer = "Customer C"
day = "wed"
page = "Letter"
"""


def write(folder: Path, truth: Path) -> None:
    """Play the fortnight and write its files and, elsewhere, its truth; the same bytes every time."""
    fortnight = run()
    seen = inspect(fortnight)
    rng = np.random.default_rng(7)
    tables = _book_tables() | _material_tables(fortnight, rng) | files.event_tables(fortnight.scripts)
    tables |= _quality_tables(fortnight, seen, rng)
    folder.mkdir(parents=True, exist_ok=True)
    files.write_plant_toml(folder / "plant.toml", BOOK)
    with (folder / "plant.toml").open("a", encoding="utf-8", newline="\n") as toml:
        toml.write(REPORT)
    for name, frame in tables.items():
        _write_table(folder, name, frame)
    for press_id, one in seen.items():
        _write_strokes(folder, press_id, one.readings)
    fortnight_truth.write(truth, fortnight, seen, tables["repacks"])


def _book_tables() -> dict[str, pd.DataFrame]:
    tables = files.book_tables(BOOK)
    tables["causes"] = pd.DataFrame(CAUSES, columns=["cause", "name", "operations", "origin"])
    tables["reasons"] = pd.DataFrame(REASONS, columns=["reason", "name", "kind"])
    tables["routes"] = pd.DataFrame([("C-9", 1, "D-140"), ("C-9", 2, "D-141")], columns=["part_no", "step", "die_id"])
    names = ["part_no", "characteristic", "nominal", "lower", "upper", "unit", "key"]
    rows = [row[: len(names)] for row in CHARACTERISTICS]
    tables["characteristics"] = pd.DataFrame(rows, columns=names).replace({True: "true", False: "false"})
    return tables


def _material_tables(fortnight: Fortnight, rng: np.random.Generator) -> dict[str, pd.DataFrame]:
    bought = [coil for coil in fortnight.coils.values() if coil.coil_id not in fortnight.reels]
    reels = [
        {
            "reel_id": reel.reel_id,
            "press_id": "P4",
            "started_at": reel.started_s,
            "ended_at": reel.ended_s,
            "rewinds": reel.rewinds,
        }
        for reel in fortnight.reels.values()
    ]
    return {
        "coils": files.coils_frame(bought),
        "coil_tests": fortnight_papers.coil_tests(fortnight, rng),
        "reels": pd.DataFrame(reels),
    }


def _quality_tables(
    fortnight: Fortnight, seen: dict[str, PlayedPress], rng: np.random.Generator
) -> dict[str, pd.DataFrame]:
    decided = fortnight_papers.dispositions(seen)
    boxes = fortnight_papers.containers(seen)
    trace = fortnight_truth.trace(fortnight, seen)
    shipped = fortnight_papers.shipments(boxes, trace)
    inspections = pd.DataFrame([row for one in seen.values() for row in one.desk.inspections])
    return {
        "inspections": inspections.astype({"inspected": "Int64"}),
        "dispositions": decided,
        "containers": boxes,
        "repacks": fortnight_papers.repacks(boxes),
        "shipments": shipped,
        "complaints": fortnight_papers.complaints(shipped, trace),
        "holds": fortnight_papers.holds(boxes),
        "orders": fortnight_papers.orders(fortnight, seen),
        "measurements": fortnight_papers.measurements(seen, rng),
        "die_service": fortnight_papers.services(),
    }


def _write_table(folder: Path, name: str, frame: pd.DataFrame) -> None:
    if name in PARQUET:
        times = [column for column in files.TIME_COLUMNS if column in frame]
        files.write_parquet(folder / f"{name}.parquet", frame, times)
    elif name in BY_WEEK:
        moments = frame["start_at" if name == "stops" else "time"].to_numpy()
        monday = at("2026-10-26 06:00")
        for week, inside in (("2026-10-19", moments < monday), ("2026-10-26", moments >= monday)):
            _write_csv(folder / f"{name}-{week}.csv", name, frame[inside])
    else:
        _write_csv(folder / f"{name}.csv", name, frame)


def _write_csv(path: Path, name: str, frame: pd.DataFrame) -> None:
    files.write_csv(path, files.as_written(frame, ZONE, STYLES.get(name, files.OFFSET)))


def _write_strokes(folder: Path, press_id: str, readings: LoggedReadings) -> None:
    """A file a day where the logger writes text, a file a week where it writes Parquet; days end at midnight."""
    frame = files.strokes_frame(press_id, readings)
    seconds = frame["time"].to_numpy()
    wall = (seconds + clock.offsets_s(ZONE, seconds)).astype("datetime64[s]")
    style = STROKE_STYLES.get(press_id)
    day = wall.astype("datetime64[D]")
    since = (day - FIRST_DAY).astype(int)
    first_day = day if style else FIRST_DAY + since // 7 * 7
    for day in np.unique(first_day):
        part = frame[first_day == day]
        path = folder / f"strokes-{press_id}-{day}"
        if style is None:
            files.write_parquet(path.with_suffix(".parquet"), part)
        else:
            text = files.time_text(part["time"].to_numpy(), ZONE, style, settle=False)
            files.write_csv(path.with_suffix(".csv"), part.assign(time=text))
