"""The files of a watched folder that have been dealt with, and what the watch last said of itself."""

from __future__ import annotations

import json
import os
import re
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any, NamedTuple

import sqlalchemy as sa

from monitor.ledger.catalog.schema import SEEN

WATCH = "watch.json"

#: A byte of a path that is not UTF-8, as `os` and Python write it.
_BYTE = re.compile(r"\\u(dc[89a-f][0-9a-f])")

Writing = Callable[[float], AbstractContextManager[sa.Connection]]


class FileStamp(NamedTuple):
    """Size [bytes] and time of change [ns] of a file when it was looked at."""

    size: int
    mtime_ns: int


class SeenFiles:
    """Made by `Keeper.seen`."""

    def __init__(self, root: Path, engine: sa.Engine, writing: Writing) -> None:
        self._root = root
        self._engine = engine
        self._writing = writing

    def of(self, folder: str) -> dict[str, FileStamp]:
        """Files of a folder that have been dealt with, by their path in it, as they were then."""
        query = sa.select(SEEN.c.path, SEEN.c.size, SEEN.c.mtime_ns).where(SEEN.c.folder == _stored(folder))
        with self._engine.connect() as connection:
            return {_path(path): FileStamp(size, mtime_ns) for path, size, mtime_ns in connection.execute(query)}

    def add(self, folder: str, looks: Mapping[str, FileStamp], wait_s: float = 30.0) -> None:
        """Keep that files have been dealt with; makes no version."""
        now_us = time.time_ns() // 1_000
        rows = [
            {
                "folder": _stored(folder),
                "path": _stored(path),
                "size": look.size,
                "mtime_ns": look.mtime_ns,
                "seen_at": now_us,
            }
            for path, look in looks.items()
        ]
        if rows:
            with self._writing(wait_s) as connection:
                connection.execute(sa.insert(SEEN).prefix_with("OR REPLACE"), rows)

    def forget(self, folder: str, paths: Sequence[str], wait_s: float = 30.0) -> None:
        """Forget files that are no longer in the folder."""
        if paths:
            query = sa.delete(SEEN).where(SEEN.c.folder == _stored(folder), SEEN.c.path == sa.bindparam("given"))
            with self._writing(wait_s) as connection:
                connection.execute(query, [{"given": _stored(path)} for path in paths])

    def write_status(self, state: Mapping[str, Any]) -> None:
        """Write the status of the watch; readers see it whole or as it was before."""
        # A file of its own, since the catalogue is locked while a long load goes on.
        made = self._root / f"{WATCH}.{os.getpid()}"
        made.write_text(json.dumps(state, ensure_ascii=False), "utf-8", errors="backslashreplace")
        made.replace(self._root / WATCH)

    def read_status(self) -> dict[str, Any]:
        """Return the status that the watch last wrote, empty where nothing was ever watched."""
        try:
            found = json.loads((self._root / WATCH).read_text("utf-8"))
        except (OSError, ValueError):
            return {}
        return found if isinstance(found, dict) else {}


def _stored(path: str) -> str:
    """Return a path as text that can be stored; bytes of it that are not UTF-8 stand as `\\udce4`."""
    return path.encode("utf-8", "backslashreplace").decode("utf-8")


def _path(stored: str) -> str:
    """Return the path that was stored."""
    return _BYTE.sub(lambda found: chr(int(found[1], 16)), stored)
