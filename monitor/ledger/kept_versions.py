"""Looking after a ledger: which versions are kept, and giving back what no kept version needs.

Every step is a short transaction of its own that readers do not notice.  A step that finds another program writing
raises LedgerBusy at once: what is left waits for the next time.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Collection, Iterator
from contextlib import AbstractContextManager, closing, contextmanager
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import sqlalchemy as sa

from monitor.ledger.bulk.files import PartFiles
from monitor.ledger.catalog.database import disk_errors, read_about, write_about
from monitor.ledger.catalog.locks import lock_file
from monitor.ledger.catalog.schema import EXPIRING, FILES, PARTS, PINS, VERSIONS
from monitor.ledger.inspection import Inspector
from monitor.ledger.seen_files import SeenFiles
from shared.errors import LedgerError
from shared.phrases import phrase
from shared.reasons.ledger import CATALOGUE_READABLE, CHECK_LEDGER, OTHER_UPKEEP

Locked = Callable[[float], AbstractContextManager[None]]

#: What SQLite calls faults of the disk or its rights.
_DISK_FAULTS = ("SQLITE_FULL", "SQLITE_IOERR", "SQLITE_CANTOPEN", "SQLITE_READONLY")

#: Held while files are copied away, so that none is deleted meanwhile.
KEEP_LOCK = "keep.lock"


class Stored(NamedTuple):
    """A version that can be read, and when it was committed [us since 1970 UTC]."""

    version: int
    committed_us: int


class Pin(NamedTuple):
    """A version that is kept under a name, and since when [us since 1970 UTC]."""

    name: str
    version: int
    pinned_us: int


class Keeper:
    """Made by `Ledger.keeper`."""

    def __init__(self, root: Path, engine: sa.Engine, files: PartFiles, locked: Locked) -> None:
        self._root = root
        self._engine = engine
        self._files = files
        self._locked = locked

    # Versions and pins

    def versions(self) -> list[Stored]:
        """Versions that can be read, the oldest first."""
        query = sa.select(VERSIONS.c.version, VERSIONS.c.committed_at).where(VERSIONS.c.expired == 0)
        with self._engine.connect() as connection:
            return [Stored(*row) for row in connection.execute(query.order_by(VERSIONS.c.version))]

    def pins(self) -> list[Pin]:
        """Versions kept by name, in order of the names."""
        query = sa.select(PINS.c.name, PINS.c.version, PINS.c.pinned_at).order_by(PINS.c.name)
        with self._engine.connect() as connection:
            return [Pin(*row) for row in connection.execute(query)]

    def pin(self, name: str, version: int, wait_s: float = 10.0) -> None:
        """Keep a version until the name is let go; raises LedgerError for a version that is not kept."""
        with self._writing(wait_s) as connection:
            kept = sa.select(VERSIONS.c.version).where(VERSIONS.c.version == version, VERSIONS.c.expired == 0)
            if connection.scalar(kept) is None:
                raise LedgerError(str(self._root), f"no version {version}", "a version that is kept", "name another")
            connection.execute(sa.delete(PINS).where(PINS.c.name == name))
            row = {"name": name, "version": version, "pinned_at": time.time_ns() // 1_000}
            connection.execute(sa.insert(PINS), [row])

    def unpin(self, name: str, wait_s: float = 10.0) -> None:
        """Let a pinned version go; raises LedgerError where none has the name."""
        with self._writing(wait_s) as connection:
            if not connection.execute(sa.delete(PINS).where(PINS.c.name == name)).rowcount:
                raise LedgerError(str(self._root), f"no pin {name!r}", "the name of a pin", "name one of the pins")

    def expire(self, versions: Collection[int], wait_s: float = 0.0) -> None:
        """Let versions go, never the newest nor a pinned one; what they needed goes with `purge`."""
        with self._writing(wait_s) as connection:
            newest = connection.scalar(sa.select(sa.func.max(VERSIONS.c.version)))
            kept = {newest, *connection.scalars(sa.select(PINS.c.version))}
            rows = [{"given": version} for version in versions if version not in kept]
            if rows:
                query = sa.update(VERSIONS).where(VERSIONS.c.version == sa.bindparam("given")).values(expired=1)
                connection.execute(query, rows)

    # What is no longer needed

    def purge(self, limit: int, wait_s: float = 0.0) -> int:
        """Delete up to `limit` superseded rows that no kept version needs; returns how many, 0 when there are none."""
        with self._writing(wait_s) as connection:
            for gap in _gaps(connection):
                for table in EXPIRING:
                    gone = _purge(connection, table, gap, limit)
                    if gone:
                        return gone
                after, upto = gap
                passed = (VERSIONS.c.version > after) & (VERSIONS.c.version < upto) & (VERSIONS.c.expired == 1)
                connection.execute(sa.delete(VERSIONS).where(passed))
        return 0

    def superseded(self) -> int:
        """Rows of facts, folds and parts that only older versions need."""
        with self._engine.connect() as connection:
            counts = (
                connection.scalar(sa.select(sa.func.count()).select_from(table).where(table.c.removed.is_not(None)))
                for table in EXPIRING
            )
            return sum(count or 0 for count in counts)

    def remove_files(self, wait_s: float = 0.0) -> int:
        """Delete files that no version needs; returns how many.  Leaves them while a backup is being made."""
        with self.files_kept(wait_s), self._locked(wait_s):
            # The lock of writers is held on: a file that is about to be registered is not idle.
            held = self._forget_files()
            idle = self._files.names() - held
            self._files.remove(idle)
            return len(idle)

    def _forget_files(self) -> set[str]:
        """Forget the digests of files that no part lies in; returns those that still hold one."""
        with self._engine.connect().execution_options(writes=True) as connection, connection.begin():
            held = set(connection.scalars(sa.select(PARTS.c.file).distinct()))
            gone = [{"given": file} for file in set(connection.scalars(sa.select(FILES.c.file))) - held]
            if gone:
                connection.execute(sa.delete(FILES).where(FILES.c.file == sa.bindparam("given")), gone)
        return held

    @contextmanager
    def files_kept(self, wait_s: float) -> Iterator[None]:
        """Let nobody delete files of this ledger meanwhile; raises LedgerBusy where that is under way."""
        with lock_file(self._root / KEEP_LOCK, wait_s, phrase(OTHER_UPKEEP)):
            yield

    def shrink(self, wait_s: float = 60.0) -> bool:
        """Give free space in the catalogue back to the disk where it is worth it; returns whether it was."""
        with self._locked(wait_s), self._engine.connect() as connection:
            raw = connection.connection.driver_connection
            pages, free = (raw.execute(f"PRAGMA {name}").fetchone()[0] for name in ("page_count", "freelist_count"))  # type: ignore[union-attr]
            if free * 4 < pages:
                return False
            connection.rollback()
            raw.execute("VACUUM")  # type: ignore[union-attr]
            raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")  # type: ignore[union-attr]
        return True

    def size_bytes(self) -> tuple[int, int]:
        """Bytes of the catalogue and of the files of parts on the disk."""
        catalogue = sum(path.stat().st_size for path in self._root.glob("catalogue.sqlite*"))
        return catalogue, sum(self._files.path(name).stat().st_size for name in self._files.names())

    @property
    def seen(self) -> SeenFiles:
        """The files of watched folders that have been dealt with."""
        return SeenFiles(self._root, self._engine, self._writing)

    @property
    def inspector(self) -> Inspector:
        """What tells whether the stored is as it should be."""
        return Inspector(self._root, self._engine, self._files)

    def file_names(self) -> set[str]:
        """Files that parts of any version lie in."""
        with self._engine.connect() as connection:
            return set(connection.scalars(sa.select(PARTS.c.file).distinct()))

    def copy_catalogue(self, to: Path) -> None:
        """Copy the catalogue as it is at one moment, while others may go on writing.

        Raises LedgerError where it cannot be read, OSError where the copy cannot be written.
        """
        try:
            with self._engine.connect() as connection, closing(sqlite3.connect(to)) as copy:
                source = connection.connection.driver_connection
                assert isinstance(source, sqlite3.Connection)
                connection.rollback()
                source.backup(copy)
        except (sqlite3.Error, sa.exc.DatabaseError) as error:
            cause = error.orig if isinstance(error, sa.exc.DatabaseError) else error
            if getattr(cause, "sqlite_errorname", "").startswith(_DISK_FAULTS):
                raise OSError(0, str(cause)) from error
            expected = phrase(CATALOGUE_READABLE)
            mend = phrase(CHECK_LEDGER)
            raise LedgerError(str(self._root), str(cause), expected, mend) from error

    # What was done when

    def noted(self, name: str) -> str:
        """A remark kept with the ledger, empty where there is none."""
        with self._engine.connect() as connection:
            return read_about(connection, name)

    def note(self, name: str, text: str, wait_s: float = 0.0) -> None:
        """Keep a remark with the ledger; makes no version."""
        with self._writing(wait_s) as connection:
            write_about(connection, name, text)

    @contextmanager
    def _writing(self, wait_s: float) -> Iterator[sa.Connection]:
        with (
            disk_errors(self._root),
            self._locked(wait_s),
            self._engine.connect().execution_options(writes=True) as connection,
            connection.begin(),
        ):
            yield connection


def _gaps(connection: sa.Connection) -> list[tuple[int, int]]:
    """Stretches (after, upto] between neighbouring kept versions in which a version has been let go."""
    rows = connection.execute(sa.select(VERSIONS.c.version, VERSIONS.c.expired).order_by(VERSIONS.c.version)).all()
    kept = [0, *(version for version, expired in rows if not expired)]
    gone = [version for version, expired in rows if expired]
    return [(a, b) for a, b in pairwise(kept) if any(a < version < b for version in gone)]


def _purge(connection: sa.Connection, table: sa.Table, gap: tuple[int, int], limit: int) -> int:
    """Delete rows that began and ended between two kept versions, which none of them can see."""
    after, upto = gap
    # A row that began with a version is seen by it; one that ended with a version is not.
    unseen = (table.c.removed > after) & (table.c.removed <= upto) & (table.c.added > after)
    row_id: sa.ColumnElement[int] = sa.literal_column("rowid")
    some = sa.select(row_id).select_from(table).where(table.c.removed.is_not(None), unseen).limit(limit)
    return connection.execute(sa.delete(table).where(row_id.in_(some))).rowcount
