"""Faults of our own code, met while files are loaded: told in one sentence, with the traceback in a log."""

from __future__ import annotations

import datetime as dt
import traceback
from pathlib import Path

from shared.errors import RefusedFile
from shared.phrases import phrase
from shared.reasons.files import NO_FAULT, OWN_FAULT, SEND_LOG

#: The log in the ledger's folder, and the one before it.
LOG, LOG_BEFORE = "errors.log", "errors.log.1"
#: A log longer than this makes way for a new one [bytes].
_LONGEST = 1 << 20


def refusal(file: str, error: Exception) -> RefusedFile:
    """Return why a file is refused whose loading failed by a fault of ours: to be told loudly, not to stop others."""
    return RefusedFile(
        file,
        phrase(OWN_FAULT, kind=type(error).__name__),
        phrase(NO_FAULT),
        phrase(SEND_LOG, log=LOG),
    )


def details(error: BaseException) -> str:
    """Return the traceback of an error as text."""
    return "".join(traceback.format_exception(error))


def log_defect(root: Path, file: str, text: str) -> None:
    """Add a traceback to the log in the ledger's folder, which never grows beyond some 2 MB; raises OSError."""
    log = root / LOG
    if log.exists() and log.stat().st_size > _LONGEST:
        log.replace(root / LOG_BEFORE)
    at = dt.datetime.now().astimezone().isoformat(timespec="seconds")
    # What a file held may stand in the text, and whoever reads the log does so in a terminal.
    shown = "".join(sign if sign == "\n" or sign.isprintable() else ascii(sign)[1:-1] for sign in text)
    with log.open("a", encoding="utf-8", errors="backslashreplace") as out:
        out.write(f"{at} {file!a}\n{shown.rstrip()}\n\n")
