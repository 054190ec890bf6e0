"""Times a week's reports: one customer of 12 parts, and 30 customers; `python -m tests.benchmarks.week_time`."""

from __future__ import annotations

import datetime as dt
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.report.plant import Works, loaded

ONE_S, ALL_S, MOST_MIB = 5.0, 60.0, 1024
MONDAY = dt.date(2026, 11, 2)


def _timed(*words: str) -> tuple[float, float]:
    """Return the time a command takes from its start to its end, on the wall and on the processor [s]."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    run = "from monitor.cli.main import main; main()"
    subprocess.run([sys.executable, "-c", run, "week", "--week", "2026-W45", *words], check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return time.perf_counter() - start, cpu


def main() -> int:
    """Print both times and the memory beside their bounds; 1 where the processor time or the memory passes its own."""
    works = Works({"Big": 12, **{f"Customer {number:02}": 2 for number in range(1, 30)}}, MONDAY)
    with tempfile.TemporaryDirectory() as folder:
        root = loaded(works, Path(folder))
        out = str(Path(folder) / "out")
        common = ("--ledger", str(root), "--out", out)
        one, every = _timed(*common, "--customer", "Big"), _timed(*common)
    for name, (wall, cpu), bound in (("one customer, 12 parts", one, ONE_S), ("30 customers, 70 parts", every, ALL_S)):
        print(f"{name}: {wall:.1f} s, {cpu:.1f} s of processor (at most {bound:.0f} s)")
    memory = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"memory: {memory:.0f} MiB (at most {MOST_MIB} MiB)")
    return int(one[1] > ONE_S or every[1] > ALL_S or memory > MOST_MIB)


if __name__ == "__main__":
    sys.exit(main())
