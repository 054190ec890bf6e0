"""How fast a clean CSV is loaded: five million counter readings against a plain pyarrow read of the same file.

Run by `make bench`.  The load is whole: digest, validation, set-aside, merge, strokes folded into facts, all in one
transaction.  Prints the shares of intake alone and of the load, their ratios to the plain read, and the peak of memory.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.csv as pacsv

from monitor.intake import find_files, read
from monitor.ledger import Ledger
from monitor.load.files import load

PRESSES = 10
ROUNDS = 3
START_S = 1_793_574_000  # 2026-11-02 06:00 in Berlin, a Monday
_CHUNK_S = 50_000


def write_csv(path: Path, rows: int, seed: int = 7) -> None:
    """Write readings of ten presses, one a second each, interleaved in time as a logger writes them."""
    rng = np.random.default_rng(seed)
    names = np.array([f"P{number:02d}" for number in range(1, PRESSES + 1)])
    counters = rng.integers(1_000_000, 9_000_000, PRESSES)
    with path.open("wb") as file:
        for first in range(0, rows // PRESSES, _CHUNK_S):
            seconds = min(_CHUNK_S, rows // PRESSES - first)
            steps = rng.integers(1, 3, (seconds, PRESSES)).cumsum(axis=0) + counters
            counters = steps[-1]
            moments = np.repeat(np.arange(first, first + seconds) + START_S, PRESSES)
            iso = np.char.add(np.datetime_as_string(moments.astype("datetime64[s]")), "Z")
            table = pa.table({"time": iso, "press_id": np.tile(names, seconds), "counter": steps.ravel()})
            pacsv.write_csv(table, file, pacsv.WriteOptions(include_header=first == 0, quoting_style="none"))


class Took(NamedTuple):
    """Time by the clock and of the processor's cores [s]."""

    clock_s: float
    core_s: float


class _Watch:
    """Measures from now on."""

    def __init__(self) -> None:
        self.began = time.perf_counter(), time.process_time()

    def took(self) -> Took:
        return Took(time.perf_counter() - self.began[0], time.process_time() - self.began[1])


def plain_read(path: Path) -> Took:
    """A plain pyarrow read."""
    watch = _Watch()
    pacsv.read_csv(path)
    return watch.took()


def intake_alone(path: Path) -> Took:
    """Reading and validating, nothing stored."""
    known = {"presses": frozenset(f"P{number:02d}" for number in range(1, PRESSES + 1))}
    watch = _Watch()
    [source] = find_files([path])
    rows = sum(batch.rows.num_rows for batch in read(source, zone="Europe/Berlin", known=known))
    taken = watch.took()
    print(f"intake alone: {rows:,} rows in {taken.clock_s:.2f} s")
    return taken


def whole_load(path: Path, ledger_path: Path) -> Took:
    """A whole load; the presses are known before it."""
    book = path.parent / "presses.csv"
    book.write_text("press_id,rated_spm\n" + "".join(f"P{number:02d},200\n" for number in range(1, PRESSES + 1)))
    with Ledger.open(ledger_path, create=True) as ledger:
        load([book], ledger)
        watch = _Watch()
        [report] = load([path], ledger).files
        taken = watch.took()
    counts = f"{report.read:,} read = {report.new:,} new + {report.set_aside:,} set aside"
    print(f"whole load: {counts} in {taken.clock_s:.2f} s")
    return taken


def peak_mib() -> float:
    """Greatest memory of this process so far [MiB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _alone(step: str, path: Path, ledger: Path) -> None:
    """Measure one step in this process, so that its peak of memory is its own."""
    taken = {"plain": plain_read, "intake": intake_alone}[step](path) if step != "load" else whole_load(path, ledger)
    print(f"{taken.clock_s} {taken.core_s} {peak_mib():.0f}")


def _measure(step: str, path: Path, ledger: Path) -> tuple[float, float, float]:
    """Time by the clock and of the cores [s] and peak of memory [MiB] of a step in a process of its own."""
    words = [
        sys.executable,
        "-m",
        "tests.benchmarks.csv_rate",
        "--step",
        step,
        "--file",
        str(path),
        "--ledger",
        str(ledger),
    ]
    out = subprocess.run(words, check=True, capture_output=True, text=True).stdout.splitlines()
    for line in out[:-1]:
        print(line)
    clock_s, core_s, peak = map(float, out[-1].split())
    return clock_s, core_s, peak


def main() -> None:
    """Measure once and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=5_000_000)
    parser.add_argument("--rounds", type=int, default=ROUNDS)
    for name in ("step", "file", "ledger"):
        parser.add_argument(f"--{name}")
    told = parser.parse_args()
    if told.step:
        _alone(told.step, Path(told.file), Path(told.ledger))
        return
    with tempfile.TemporaryDirectory() as held:
        path = Path(held) / "strokes-1.csv"
        write_csv(path, told.rows)
        # In turn, so that what else the computer does weighs on all of them alike; the best of each counts.
        rounds = [
            [_measure(step, path, Path(held) / f"ledger{turn}") for step in ("plain", "intake", "load")]
            for turn in range(told.rounds)
        ]
    best = [tuple(map(min, zip(*of_step, strict=True))) for of_step in zip(*rounds, strict=True)]
    plain_s, plain_core_s, _ = best[0]
    print(f"best of {told.rounds} throughout; cores: time of all of them together")
    for name, (clock_s, core_s, mib) in zip(("plain read", "intake", "load"), best, strict=True):
        ratios = f"{clock_s / plain_s:.1f} x plain by the clock, {core_s / plain_core_s:.1f} x by the cores"
        print(f"{name} {clock_s:.2f} s, cores {core_s:.2f} s = {ratios}; peak {mib:.0f} MiB")


if __name__ == "__main__":
    main()
