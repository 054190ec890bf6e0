"""The ledger: a folder with a catalogue and the files it names."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Self

import sqlalchemy as sa

from monitor.ledger.bulk.files import PartFiles
from monitor.ledger.catalog.database import check_format, connect, create_missing, disk_errors, is_current
from monitor.ledger.catalog.locks import lock_file
from monitor.ledger.catalog.schema import VERSIONS
from monitor.ledger.kept_versions import Keeper
from monitor.ledger.snapshot import Snapshot
from monitor.ledger.writer import Writer
from shared.calendar import Calendar
from shared.errors import LedgerError
from shared.phrases import phrase
from shared.reasons.ledger import OTHER_LOAD

CATALOGUE = "catalogue.sqlite"
LOCK = "writer.lock"

WAIT_S = 60.0


class Ledger:
    """A ledger opened for reading by any number of programs and for writing by one at a time."""

    def __init__(self, root: Path, read_only: bool = False) -> None:
        self.root = root
        self._files = PartFiles(root)
        self._engine = connect(root / CATALOGUE, read_only)

    @classmethod
    def open(cls, path: Path | str, create: bool = False) -> Ledger:
        """Open the ledger in a folder; with `create`, make one where there is none.

        Raises LedgerError where there is none, where the folder holds other things, or where the ledger was written
        by a newer release.
        """
        root = Path(path)
        try:
            if not (root / CATALOGUE).is_file():
                _prepare(root, create)
        except OSError as error:
            raise LedgerError(
                str(root),
                error.strerror or str(error),
                "a folder that can be read and written by whoever runs this",
                "mend the rights of the folder, or name another",
            ) from error
        ledger = cls(root)
        with ledger._closed_on_failure():
            found = check_format(ledger._engine, str(root))
            with disk_errors(root):
                if not found or not is_current(ledger._engine):
                    with ledger._locked(WAIT_S):
                        create_missing(ledger._engine, root)
        return ledger

    @classmethod
    def open_as_it_is(cls, path: Path | str) -> Ledger:
        """Open the ledger in a folder for reading alone: nothing is created, upgraded or written.

        Raises LedgerError where there is none, or where it is of an older or newer release.
        """
        root = Path(path)
        if not (root / CATALOGUE).is_file():
            raise LedgerError(str(root), "no ledger", "the folder of a ledger", "name the folder of a ledger")
        ledger = cls(root, read_only=True)
        with ledger._closed_on_failure():
            if not check_format(ledger._engine, str(root)) or not is_current(ledger._engine):
                raise LedgerError(
                    str(root),
                    "a ledger that an older release wrote",
                    "one of this release",
                    "run strokeledger upkeep once, which upgrades it",
                )
        return ledger

    @property
    def version(self) -> int:
        """The newest version, 0 before the first load."""
        with self._engine.connect() as connection:
            return _newest(connection)

    def snapshot(self, version: int | None = None) -> Snapshot:
        """The ledger as it was at a version, or as it is; raises LedgerError for one that is not kept."""
        newest = self.version
        wanted = newest if version is None else version
        if wanted != newest:
            self._check_kept(wanted)
        return Snapshot(self._engine.connect, self._files, wanted)

    @contextmanager
    def writer(self, calendar: Calendar, wait_s: float = WAIT_S) -> Iterator[Writer]:
        """Write one version: committed as a whole at the end of the block, or not at all if it raises.

        Waits for another writer for up to `wait_s` seconds; raises LedgerError if it is still at work then, or if the
        disk refuses.  Nothing written makes no version.
        """
        with disk_errors(self.root), self._locked(wait_s), self._engine.connect() as plain:
            connection = plain.execution_options(writes=True)
            with connection.begin():
                # Files that a program left which was ended while it wrote.
                self._files.remove_from(_newest(connection) + 1)
                writer = Writer(connection, self._files, _newest(connection) + 1, calendar)
                with self._undone_on_failure(writer):
                    yield writer
                    if writer.changed:
                        writer.record_version()

    def close(self) -> None:
        """Let go of every file."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @property
    def keeper(self) -> Keeper:
        """What looks after the ledger: versions to keep and to let go, parts to merge, files to delete."""
        return Keeper(self.root, self._engine, self._files, self._locked)

    @contextmanager
    def _closed_on_failure(self) -> Iterator[None]:
        try:
            yield
        except BaseException:
            self.close()
            raise

    @contextmanager
    def _undone_on_failure(self, writer: Writer) -> Iterator[None]:
        try:
            yield
        except BaseException:
            writer.parts.close()
            self._files.remove(writer.parts.written)
            raise
        writer.parts.close()

    @contextmanager
    def _locked(self, wait_s: float) -> Iterator[None]:
        with lock_file(self.root / LOCK, wait_s, phrase(OTHER_LOAD)):
            yield

    def _check_kept(self, version: int) -> None:
        with self._engine.connect() as connection:
            readable = sa.select(VERSIONS.c.version).where(VERSIONS.c.expired == 0)
            kept = connection.scalars(readable.where(VERSIONS.c.version == version)).first()
            oldest = connection.scalar(sa.select(sa.func.min(readable.subquery().c.version)))
            newest = _newest(connection)
        if kept is None:
            raise LedgerError(
                str(self.root),
                f"no version {version}",
                f"a version from {oldest or 0} to {newest} that is kept",
                "name one that strokeledger upkeep --list shows",
            )


def _newest(connection: sa.Connection) -> int:
    return connection.scalar(sa.select(sa.func.max(VERSIONS.c.version))) or 0


def _prepare(root: Path, create: bool) -> None:
    others = {path.name for path in root.iterdir()} - {LOCK} if root.is_dir() else set()
    if others or not create:
        raise LedgerError(
            str(root),
            "a folder with other files" if others else "no ledger",
            "the folder of a ledger",
            "name the folder of a ledger, or an empty one to begin a ledger in",
        )
    root.mkdir(parents=True, exist_ok=True)
