"""How fast counter rows become figures: ten million readings of forty presses against a plain read of the same files.

Run by `make bench`.  Prints rows a second from files to figures, the ratio to a plain pyarrow read in the same run, and
the peak of memory.
"""

from __future__ import annotations

import argparse
import resource
import tempfile
import time
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv as pacsv
import pyarrow.parquet as pq

from monitor.figures import figure
from monitor.ledger import Ledger
from monitor.load.files import load

PRESSES = 40
START_S = 1_793_574_000  # 2026-11-02 06:00 in Berlin, a Monday
STATIONS = 12
PLANT = """name = "Bench plant"
timezone = "Europe/Berlin"
[[shift]]
name = "Early"
start = "06:00"
end = "14:00"
[[shift]]
name = "Late"
start = "14:00"
end = "22:00"
[[shift]]
name = "Night"
start = "22:00"
end = "06:00"
"""


def write_plant(folder: Path, rows: int, seed: int = 7) -> None:
    """Write a plant whose presses stroke at 80 to 140 a minute with stops, coil changes, and hourly checks."""
    rng = np.random.default_rng(seed)
    names = [f"P{number:02d}" for number in range(1, PRESSES + 1)]
    seconds = rows // PRESSES
    (folder / "plant.toml").write_text(PLANT, "utf-8")
    _write(folder, "presses", press_id=names, rated_spm=[200.0] * PRESSES)
    dies = [f"D-{number}" for number in range(101, 101 + PRESSES)]
    _write(
        folder,
        "dies",
        die_id=dies,
        pitch_mm=[24.0] * PRESSES,
        parts_per_stroke=[1] * PRESSES,
        rated_spm=[150.0] * PRESSES,
    )
    _write(
        folder, "stations", die_id=np.repeat(dies, STATIONS), station=np.tile(range(1, STATIONS + 1), PRESSES),
        operation=["pierce"] * (STATIONS * PRESSES),
    )  # fmt: skip
    parts = [f"{number}-0" for number in range(101, 101 + PRESSES)]
    _write(folder, "parts", part_no=parts, net_weight_g=[6.5] * PRESSES)
    _write(folder, "materials", material=["DC01"], density_kg_m3=[7850.0])
    _write(folder, "causes", cause=["BUR"])
    _events(folder, rng, names=names, dies=dies, parts=parts, seconds=seconds)
    _strokes(folder, rng, names, seconds)


def _write(folder: Path, table: str, **columns: object) -> None:
    pacsv.write_csv(pa.table(columns), folder / f"{table}.csv")


def _iso(seconds: object) -> list[str]:
    moments = np.asarray(seconds, dtype="int64") + START_S
    return [f"{text}Z" for text in np.datetime_as_string(moments.astype("datetime64[s]"))]


def _events(
    folder: Path, rng: np.random.Generator, names: list[str], dies: list[str], parts: list[str], seconds: int
) -> None:
    _write(
        folder, "die_changes", time=_iso([0] * PRESSES + [600] * PRESSES), press_id=names * 2,
        event=["set"] * PRESSES + ["first_off"] * PRESSES, die_id=dies * 2, part_no=parts * 2,
    )  # fmt: skip
    every = 3 * 3600
    changes = np.tile(np.arange(0, seconds, every), PRESSES)
    press = np.repeat(names, len(changes) // PRESSES)
    coils = [f"C-{number}" for number in range(len(changes))]
    count = len(coils)
    _write(
        folder, "coils", coil_id=coils, lot=[f"L-{number // 5}" for number in range(count)], material=["DC01"] * count,
        width_mm=[60.0] * count, thickness_mm=[1.0] * count, weight_kg=[400.0] * count,
    )  # fmt: skip
    _write(
        folder, "coil_changes", time=_iso(changes), press_id=press, coil_id=coils,
        event=["mount" if at == 0 else "splice" for at in changes],
    )  # fmt: skip
    checks = np.tile(np.arange(3600, seconds, 3600), PRESSES)
    count = len(checks)
    _write(
        folder, "inspections", inspection_id=[f"I-{number}" for number in range(count)], time=_iso(checks),
        press_id=np.repeat(names, count // PRESSES), kind=["sample"] * count, inspected=[5] * count,
        cause=["BUR"] * count, rejected=rng.binomial(5, 0.01, count),
    )  # fmt: skip


def _strokes(folder: Path, rng: np.random.Generator, names: list[str], seconds: int) -> None:
    """One file a press hour-block of presses interleaved in time, as a plant's logger writes them."""
    per_second = rng.uniform(80, 140, PRESSES) / 60
    running = np.ones((seconds, PRESSES), dtype=bool)
    for press in range(PRESSES):
        for start in rng.integers(0, seconds, seconds // 4000):
            running[start : start + rng.integers(90, 1800), press] = False
    counters = np.floor(np.cumsum(running * per_second, axis=0)).astype("int64")
    block = 12 * 3600
    for number, first in enumerate(range(0, seconds, block)):
        part = counters[first : first + block]
        times = np.repeat((np.arange(first, first + len(part)) + START_S) * 1_000_000, PRESSES)
        table = pa.table(
            {
                "time": pa.array(times).cast(pa.timestamp("us", "UTC")),
                "press_id": pa.array(np.tile(names, len(part))),
                "counter": pa.array(part.ravel()),
            }
        )
        pq.write_table(table, folder / f"strokes-{number:02d}.parquet")


def main() -> None:
    """Measure once and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=10_000_000)
    rows = parser.parse_args().rows
    with tempfile.TemporaryDirectory() as held:
        folder = Path(held) / "plant"
        folder.mkdir()
        write_plant(folder, rows)
        files = sorted(folder.glob("strokes-*.parquet"))
        begun = time.perf_counter()
        read = sum(pq.read_table(file).num_rows for file in files)
        plain_s = time.perf_counter() - begun
        before_mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        begun = time.perf_counter()
        with Ledger.open(Path(held) / "ledger", create=True) as ledger:
            load([folder], ledger)
            load_s = time.perf_counter() - begun
            strokes = int(figure(ledger, "shifts")["strokes"].sum())
        total_s = time.perf_counter() - begun
    peak_mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{read:,} rows, {strokes:,} strokes; plain read {plain_s:.2f} s (peak then {before_mib:.0f} MiB)")
    print(f"into figures {total_s:.2f} s (load {load_s:.2f}) = {read / total_s / 1e6:.2f} million rows/s")
    print(f"that is {total_s / plain_s:.1f} x the plain read")
    print(f"peak memory {peak_mib:.0f} MiB")


if __name__ == "__main__":
    main()
