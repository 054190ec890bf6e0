"""Checks random plants with messy notes: `python -m tests.messy --count 200`, one again with `--count 1 --seed N`."""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
import warnings
from pathlib import Path

from tests.messy.checks.all import check

_SAY_EVERY = 10


def main() -> None:
    """Check as many plants as asked, say what is wrong with each, and end with 1 if anything was."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=0, help="the first; every further plant has the next one")
    parser.add_argument("--keep", type=Path, help="where to leave plants and ledgers")
    parser.add_argument("--most", type=int, default=6, help="faults to print of one plant")
    asked = parser.parse_args()
    # As in the tests: whatever warns of its numbers has reckoned with something that cannot be.
    warnings.simplefilter("error")
    wrong = 0
    for number, seed in enumerate(range(asked.seed, asked.seed + asked.count), 1):
        began = time.process_time()
        with tempfile.TemporaryDirectory() as made:
            case, faults = check(seed, asked.keep / str(seed) if asked.keep else Path(made))
        if faults:
            wrong += 1
            took_s = time.process_time() - began
            print(f"seed {seed}: {len(faults)} faults ({took_s:.1f} s; {', '.join(case.features)})", flush=True)
            for fault in faults[: asked.most]:
                print(f"  {fault}", flush=True)
        if not number % _SAY_EVERY:
            print(f"{number:,} of {asked.count:,}: {wrong} with faults", flush=True)
    print(f"{asked.count:,} plants from seed {asked.seed} on, {wrong} with faults")
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
