"""Writes readings into a ledger and is killed between the Parquet file and the commit; run as a program by a test."""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

from monitor.ledger import Ledger
from tests.ledger.given import CALENDAR, strokes


def main(folder: str) -> None:
    """Merge one batch, wait until its file is on the disk, and die without a word."""
    ledger = Ledger.open(Path(folder))
    with ledger.writer(CALENDAR) as writer:
        load_id = writer.begin_load("strokes.csv", "strokes", "killed", 1)
        writer.merge("strokes", strokes((50, 500), (60, 501)), load_id)
        writer.finish_load(load_id)
        writer.parts.wait()
        sys.stdout.write("written\n")
        sys.stdout.flush()
        os.kill(os.getpid(), getattr(signal, "SIGKILL", signal.SIGTERM))


if __name__ == "__main__":
    main(sys.argv[1])
