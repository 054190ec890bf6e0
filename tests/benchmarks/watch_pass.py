"""One look through a folder of many old files: how long it takes while nothing is new, and with one new file.

Run with `python -m tests.benchmarks.watch_pass`.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path

from monitor.ledger import Ledger
from monitor.watch import FolderWatch, scan_folder


def main() -> None:
    """Measure with 100,000 files."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=100_000)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        drop = Path(folder) / "drop"
        for number in range(asked.files):
            below = drop / f"line-{number // 5_000:03d}"
            if number % 5_000 == 0:
                below.mkdir(parents=True)
            (below / f"strokes-{number:06d}.csv").write_bytes(b"time,press_id,counter\n")
        with Ledger.open(Path(folder) / "ledger", create=True) as ledger:
            began = time.perf_counter()
            ledger.keeper.seen.add(str(drop.absolute()), scan_folder(drop))
            print(f"{asked.files:,} files noted as seen in {time.perf_counter() - began:.2f} s")
            watch = FolderWatch(ledger, drop, print)
            for name in ("first look after a start", "second look", "third look"):
                began, worked = time.perf_counter(), time.process_time()
                assert watch.step() is None
                print(f"{name}: {time.perf_counter() - began:.2f} s, {time.process_time() - worked:.2f} s of a core")
            (drop / "presses.csv").write_text("press_id\nP1\n")
            watch.step()
            began, worked = time.perf_counter(), time.process_time()
            assert watch.step() is not None
            took_s, worked_s = time.perf_counter() - began, time.process_time() - worked
            print(f"look that loads one small file: {took_s:.2f} s, {worked_s:.2f} s of a core")


if __name__ == "__main__":
    main()
