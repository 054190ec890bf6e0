"""Immutable Parquet files: written and made durable in the background, read a row group at a time."""

from __future__ import annotations

import hashlib
import os
from collections import deque
from collections.abc import Iterable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from functools import lru_cache
from pathlib import Path, PurePosixPath
from typing import BinaryIO, NamedTuple

import pyarrow as pa
import pyarrow.parquet as pq

from shared.errors import DamagedPart, LedgerError
from shared.phrases import phrase
from shared.reasons.ledger import (
    CHECK_FILES,
    FOLDER_WITH_SPACE,
    LEDGER_FOLDER,
    MEND_DISK,
    NOTHING_KEPT,
    PART_AS_WRITTEN,
    PART_DAMAGED,
)

FOLDER = "parts"

# Files being written at once; each holds its rows in memory until it is done.
_PENDING = 2
_METADATA_KEPT = 128


class Written(NamedTuple):
    """A file as it was written: its name, size [bytes] and digest."""

    file: str
    size: int
    sha256: str


class _Hashing:
    """A file being written, with the digest of its bytes so far."""

    closed = False

    def __init__(self, sink: BinaryIO) -> None:
        self._sink = sink
        self.size = 0
        self.digest = hashlib.sha256()

    def write(self, data: bytes) -> int:
        self.digest.update(data)
        written = self._sink.write(data)
        self.size += written
        return written

    def tell(self) -> int:
        return self.size

    def flush(self) -> None:
        self._sink.flush()

    def close(self) -> None:
        """Leave the file open: its owner still has to sync it."""


class PartFiles:
    """The folder of Parquet files of one ledger; names are relative to the ledger, with forward slashes."""

    def __init__(self, root: Path) -> None:
        self._root = root
        self._metadata = lru_cache(maxsize=_METADATA_KEPT)(self._read_metadata)

    def path(self, file: str) -> Path:
        """Where a file lies."""
        return self._root.joinpath(*PurePosixPath(file).parts)

    def read(self, file: str, row_group: int, columns: Sequence[str]) -> pa.Table:
        """Those of the columns that one row group has."""
        try:
            metadata = self._metadata(file)
            with pq.ParquetFile(self.path(file), metadata=metadata) as source:
                return source.read_row_group(row_group, columns=list(columns), use_threads=False)
        except (OSError, ValueError, IndexError, MemoryError, pa.ArrowException) as error:
            raise DamagedPart(
                str(self.path(file)),
                phrase(PART_DAMAGED, why=str(error).splitlines()[0][:120]),
                phrase(PART_AS_WRITTEN),
                phrase(CHECK_FILES),
            ) from error

    def write(self, file: str, groups: Sequence[pa.RecordBatch]) -> Written:
        """Write one row group for each batch and return when the bytes are on the disk."""
        path = self.path(file)
        path.parent.mkdir(exist_ok=True)
        with path.open("xb") as sink:
            hashing = _Hashing(sink)
            with _parquet_writer(hashing, groups[0].schema) as writer:
                for group in groups:
                    writer.write_batch(group, row_group_size=max(1, group.num_rows))
            sink.flush()
            os.fsync(sink.fileno())
        _sync_folder(path.parent)
        return Written(file, hashing.size, hashing.digest.hexdigest())

    def digest(self, file: str) -> Written | None:
        """Size and digest of a file as it is on the disk, None where it cannot be read."""
        try:
            with self.path(file).open("rb") as source:
                digest = hashlib.file_digest(source, "sha256").hexdigest()
                return Written(file, os.fstat(source.fileno()).st_size, digest)
        except OSError:
            return None

    def names(self) -> set[str]:
        """Every file in the folder."""
        folder = self._root / FOLDER
        return {f"{FOLDER}/{path.name}" for path in folder.iterdir()} if folder.exists() else set()

    def remove_from(self, version: int) -> None:
        """Delete files of a version and those after it, none of which is committed."""
        first = f"{FOLDER}/{version:08d}-"
        self.remove(name for name in self.names() if name >= first)

    def remove(self, files: Iterable[str]) -> None:
        """Delete files that no version needs; one that another program holds open is left for the next time."""
        for file in files:
            try:
                self.path(file).unlink(missing_ok=True)
            except PermissionError:
                continue

    def _read_metadata(self, file: str) -> pq.FileMetaData:
        return pq.read_metadata(self.path(file))


class BackgroundWriter:
    """Writes files of one transaction in a thread of its own, so that reading the next rows can go on."""

    def __init__(self, files: PartFiles) -> None:
        self._files = files
        self._pool = ThreadPoolExecutor(1, "strokeledger-parquet")
        self._pending: deque[Future[Written]] = deque()
        self.done: dict[str, Written] = {}

    def submit(self, file: str, groups: Sequence[pa.RecordBatch]) -> None:
        """Take a file to write; waits while too many are under way; raises what an earlier one failed with."""
        while len(self._pending) >= _PENDING:
            self._settle()
        self._pending.append(self._pool.submit(self._files.write, file, groups))

    def wait(self) -> None:
        """Return once every file taken is on the disk; raises what one of them failed with."""
        while self._pending:
            self._settle()

    def _settle(self) -> None:
        try:
            written = self._pending.popleft().result()
        except OSError as error:
            raise LedgerError(
                phrase(LEDGER_FOLDER, folder=FOLDER),
                phrase(NOTHING_KEPT, why=error.strerror or str(error)),
                phrase(FOLDER_WITH_SPACE),
                phrase(MEND_DISK),
            ) from error
        self.done[written.file] = written

    def close(self) -> None:
        """End the thread, done or not; nothing is under way afterwards."""
        self._pool.shutdown(wait=True, cancel_futures=True)


def _parquet_writer(sink: object, schema: pa.Schema) -> pq.ParquetWriter:
    # Counters and times rise by little from row to row: deltas take 3 bytes a row and are the quickest to write.
    whole = [field.name for field in schema if pa.types.is_integer(field.type) or pa.types.is_timestamp(field.type)]
    repeated = [field.name for field in schema if pa.types.is_dictionary(field.type) or pa.types.is_string(field.type)]
    return pq.ParquetWriter(
        sink,
        schema,
        compression="LZ4",
        use_dictionary=repeated,
        column_encoding=dict.fromkeys(whole, "DELTA_BINARY_PACKED"),
        write_statistics=False,
        store_schema=False,
    )


def _sync_folder(folder: Path) -> None:
    if os.name == "nt":  # Windows has no handle on a folder to sync; NTFS keeps the entry in its journal.
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
