"""One look through a folder of many old files: how long it takes while nothing is new, and with one new file.

Run with `python -m tests.benchmarks.watch_pass`.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path

from monitor.ledger import Ledger
from monitor.watching import Watch, look_through


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
            ledger.keeper.seen.add(str(drop.absolute()), look_through(drop))
            print(f"{asked.files:,} files noted as seen in {time.perf_counter() - began:.2f} s")
            watch = Watch(ledger, drop, print)
            for name in ("first look after a start", "second look", "third look"):
                began = time.perf_counter()
                assert watch.step() is None
                print(f"{name}: {time.perf_counter() - began:.2f} s")
            (drop / "presses.csv").write_text("press_id\nP1\n")
            watch.step()
            began = time.perf_counter()
            assert watch.step() is not None
            print(f"look that loads one small file: {time.perf_counter() - began:.2f} s")


if __name__ == "__main__":
    main()
