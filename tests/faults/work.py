"""One piece of work on a ledger, run as a program of its own so that it can be killed."""

from __future__ import annotations

import datetime as dt
import sqlite3
import time
from contextlib import closing
from multiprocessing.connection import Connection
from pathlib import Path

from monitor.keep import retention as upkeep
from monitor.keep.backup import backup, restore
from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.load.upgrade import upgrade_facts
from monitor.plant.book import plant_of
from shared.calendar import Calendar
from tests.faults import by_hand, sending

#: So late that every version but the newest is let go.
LATER_US = 365 * upkeep.DAY_US

#: What is made of a ledger by work that copies it, and the backup that is put back.
COPIES = {"backup": "backup", "restore": "restored"}
SOURCE = "kept"


def do(kind: str, ledger: Ledger, folder: Path, say: by_hand.Say = lambda step: None) -> None:
    """Do the work, or the rest of it, and say each step that is done where it has some.

    `refold` loads a changed plant book, after which every press is folded anew; `restore` puts back a backup that
    lies in the folder.
    """
    if kind in by_hand.KINDS:
        by_hand.do(kind, ledger, say)
    elif kind in ("load", "refold"):
        load([folder], ledger)
    elif kind == "upkeep":
        calendar = Calendar(plant_of(ledger.snapshot().plant_text()))
        upkeep.tidy(ledger, calendar, time.time_ns() // 1_000 + LATER_US)
    elif kind == "compaction":
        with ledger.writer(Calendar(plant_of(ledger.snapshot().plant_text()))) as writer:
            writer.compact(dt.date.max.isoformat(), most_rows=1 << 60)
    elif kind == "backup":
        backup(ledger, folder / COPIES["backup"])
    elif kind == "restore":
        if not (folder / COPIES["restore"]).exists():
            restore(folder / SOURCE, folder / COPIES["restore"])
    elif kind == "report":
        sending.send(ledger.root, folder / "out")
    elif kind == "upgrade":  # The format is brought up by opening the ledger.
        upgrade_facts(ledger)
    else:
        raise ValueError(f"no work is called {kind}")


def make_old(root: Path) -> None:
    """Let a ledger be one of format 1, reckoned by other rules: no digests of files, no loads named by parts."""
    with closing(sqlite3.connect(root / "catalogue.sqlite")) as catalogue, catalogue:
        catalogue.execute("UPDATE about SET value = '1' WHERE name = 'format'")
        catalogue.execute("UPDATE about SET value = '' WHERE name = 'contract'")
        catalogue.execute("DELETE FROM about WHERE name LIKE 'reckon%'")
        catalogue.execute("UPDATE fact_time SET running_us = running_us + 1")
        catalogue.execute("DELETE FROM stored_files")
        catalogue.execute("UPDATE stored_parts SET loads = ''")


def work(kind: str, root: Path, folder: Path, told: Connection) -> None:
    """Do the work; tells when it begins, each step that is done, and when all of it is."""
    told.send("begun")
    with Ledger.open(root) as ledger:
        do(kind, ledger, folder, told.send)
    told.send("done")
