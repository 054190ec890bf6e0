"""A load a minute for some hours, with and without upkeep: how the ledger grows and how long upkeep takes.

Run with `python -m tests.benchmarks.upkeep_growth`; the clock is set on by a minute with every load.
"""

from __future__ import annotations

import argparse
import datetime as dt
import tempfile
import time
from pathlib import Path
from unittest import mock

from monitor.keep.retention import tidy_if_due
from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.plant.book import plant_of
from shared.calendar import Calendar

_BOOK = {
    "plant.toml": 'timezone = "Europe/Berlin"\n[[shift]]\nname = "early"\nstart = "06:00"\nend = "14:00"\n',
    "dies.csv": "die_id,pitch_mm,parts_per_stroke,rated_spm\nD1,30,2,60\n",
    "stations.csv": "die_id,station,operation\nD1,1,pierce\nD1,2,form\nD1,3,cutoff\n",
    "parts.csv": "part_no,net_weight_g\nN1,5\n",
    "routes.csv": "part_no,step,die_id\nN1,1,D1\n",
    "materials.csv": "material,density_kg_m3\nDC01,7850\n",
}
_START = dt.datetime(2026, 11, 2, 5, tzinfo=dt.UTC)


def measure(presses: int, minutes: int, upkeep: bool, folder: Path) -> None:
    """Load a minute's readings of all presses at a time, and print sizes every hour."""
    names = [f"P{number:02d}" for number in range(1, presses + 1)]
    drop = folder / "drop"
    drop.mkdir()
    for name, text in _BOOK.items():
        (drop / name).write_text(text)
    (drop / "presses.csv").write_text("press_id,rated_spm\n" + "".join(f"{name},60\n" for name in names))
    (drop / "coils.csv").write_text(
        "coil_id,lot,material,width_mm,thickness_mm,weight_kg\n" + "".join(f"C{n},L1,DC01,40,1,900\n" for n in names)
    )
    changes = "".join(f"{_START.isoformat()},{name},set,D1\n" for name in names)
    (drop / "die_changes.csv").write_text("time,press_id,event,die_id\n" + changes)
    mounts = "".join(f"{_START.isoformat()},{name},mount,C{name}\n" for name in names)
    (drop / "coil_changes.csv").write_text("time,press_id,event,coil_id\n" + mounts)
    with Ledger.open(folder / "ledger", create=True) as ledger:
        load([drop], ledger)
        calendar = Calendar(plant_of(ledger.snapshot().plant_text()))
        print(f"{presses} presses, {'with' if upkeep else 'without'} upkeep")
        for minute in range(minutes):
            _one_minute(ledger, calendar, drop=drop, names=names, minute=minute, upkeep=upkeep)
            if minute % 60 == 59:
                catalogue, parts = ledger.keeper.size_bytes()
                print(f"  hour {minute // 60 + 1}: catalogue {catalogue / 1e6:.1f} MB, parts {parts / 1e6:.1f} MB, "
                      f"{ledger.keeper.superseded():,} superseded rows")  # fmt: skip


def _one_minute(ledger: Ledger, calendar: Calendar, drop: Path, names: list[str], minute: int, upkeep: bool) -> None:
    at = _START + dt.timedelta(minutes=minute)
    rows = (
        f"{(at + dt.timedelta(seconds=second)).isoformat()},{name},{minute * 60 + second}\n"
        for name in names
        for second in range(60)
        if (minute * 60 + second) % 1500 > 60  # a stop of a minute now and then
    )
    file = drop / f"strokes-{minute:05d}.csv"
    file.write_text("time,press_id,counter\n" + "".join(rows))
    clock_ns = int(at.timestamp() * 1e9) + 60 * 1_000_000_000
    with mock.patch("time.time_ns", return_value=clock_ns), mock.patch("monitor.load.files.tidy_if_due"):
        load([file], ledger)
        began = time.perf_counter()
        tidied = tidy_if_due(ledger, calendar) if upkeep else None
        if tidied:
            print(f"  upkeep at {at:%H:%M}: {tidied.rows:,} rows and {tidied.files} files gone in "
                  f"{time.perf_counter() - began:.2f} s, longest step {tidied.longest_step_s:.2f} s")  # fmt: skip


def main() -> None:
    """Measure both ways."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--presses", type=int, default=10)
    parser.add_argument("--minutes", type=int, default=180)
    asked = parser.parse_args()
    for upkeep in (False, True):
        with tempfile.TemporaryDirectory() as folder:
            measure(asked.presses, asked.minutes, upkeep, Path(folder))


if __name__ == "__main__":
    main()
