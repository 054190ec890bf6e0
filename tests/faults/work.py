"""One piece of work on a ledger, run as a program so that it can be killed: load, upkeep or backup.

`python -m tests.faults.work KIND LEDGER FOLDER`; prints `begun` when the imports are done.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

from monitor import upkeep
from monitor.book import plant_of
from monitor.copying import backup
from monitor.ledger import Ledger
from monitor.loading import load
from shared.calendar import Calendar

#: So late that every version but the newest is let go.
LATER_US = 365 * upkeep.DAY_US


def do(kind: str, ledger: Ledger, folder: Path) -> None:
    """Do the work; `refold` loads a changed plant book, after which every press is folded anew."""
    if kind in ("load", "refold"):
        load([folder], ledger)
    elif kind == "upkeep":
        calendar = Calendar(plant_of(ledger.snapshot().plant_text()))
        upkeep.tidy(ledger, calendar, time.time_ns() // 1_000 + LATER_US)
    elif kind == "backup":
        backup(ledger, folder / "backup")
    else:
        raise SystemExit(f"no work is called {kind}")


def main() -> None:
    """Do the work named on the command line."""
    kind, root, folder = sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3])
    with Ledger.open(root) as ledger:
        print("begun", flush=True)
        do(kind, ledger, folder)
    print("done", flush=True)


if __name__ == "__main__":
    main()
