"""Locks between programs, which end with the program that holds them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import filelock

from shared.errors import LedgerBusy
from shared.phrases import phrase
from shared.reasons.ledger import ONE_AT_A_TIME, STILL_BUSY, WAIT_FOR_END


@contextmanager
def lock_file(path: Path, wait_s: float, busy: str) -> Iterator[None]:
    """Hold the lock of a file; raises LedgerBusy where another program or thread holds it for longer than `wait_s`."""
    # A lock of its own for each holder: one that is shared would let a second thread pass.
    lock = filelock.FileLock(path)
    try:
        lock.acquire(timeout=wait_s)
    except filelock.Timeout:
        raise LedgerBusy(
            str(path.parent),
            phrase(STILL_BUSY, what=busy, n=f"{wait_s:g}"),
            phrase(ONE_AT_A_TIME),
            phrase(WAIT_FOR_END),
        ) from None
    try:
        yield
    finally:
        lock.release()
