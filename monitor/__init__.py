"""The press-line monitor: files in, figures out; `open_ledger` is the way in for programs of your own."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from monitor.reader import LedgerReader

__all__ = ["open_ledger"]

# Matrices here are small: threads of the linear algebra cost more than they save, above all beside those that serve.
# It is read when numpy is imported, which is later than this.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def open_ledger(path: Path | str) -> LedgerReader:
    """Return the ledger in a folder, opened to be read; other programs may load into it meanwhile.

    Close it, or use it in a `with` block.  Raises StrokeledgerError, which says what to do, where there is no ledger
    in the folder, or one of an older or newer release.
    """
    from monitor.reader import LedgerReader  # Importing `monitor` alone stays quick.

    return LedgerReader(path)
