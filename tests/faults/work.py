"""One piece of work on a ledger, run as a program of its own so that it can be killed."""

from __future__ import annotations

import datetime as dt
import sqlite3
import time
from contextlib import closing
from multiprocessing.connection import Connection
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
    elif kind == "compaction":
        with ledger.writer(Calendar(plant_of(ledger.snapshot().plant_text()))) as writer:
            writer.compact(dt.date.max.isoformat(), most_rows=1 << 60)
    elif kind == "backup":
        backup(ledger, folder / "backup")
    elif kind != "upgrade":  # That is done by opening the ledger.
        raise ValueError(f"no work is called {kind}")


def make_old(root: Path) -> None:
    """Let a ledger be one of format 1: no digests of files, no loads named by parts."""
    with closing(sqlite3.connect(root / "catalogue.sqlite")) as catalogue, catalogue:
        catalogue.execute("UPDATE about SET value = '1' WHERE name = 'format'")
        catalogue.execute("UPDATE about SET value = '' WHERE name = 'contract'")
        catalogue.execute("DELETE FROM stored_files")
        catalogue.execute("UPDATE stored_parts SET loads = ''")


def work(kind: str, root: Path, folder: Path, told: Connection) -> None:
    """Do the work; tells when it begins and when it is done."""
    told.send("begun")
    with Ledger.open(root) as ledger:
        do(kind, ledger, folder)
    told.send("done")
