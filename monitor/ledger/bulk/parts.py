"""The register of parts: which row group of which file holds the rows of a press on a plant day, from when to when."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from itertools import groupby

import pyarrow as pa
import sqlalchemy as sa

from monitor.ledger.bulk.files import FOLDER, BackgroundWriter, PartFiles, Written
from monitor.ledger.catalog.schema import PARTS, live
from monitor.ledger.catalog.values import loads_text

# So many parts of like size are merged into one: the parts of a press-day stay few, and a row is copied a few times.
_FAN_IN = 4
_KEYS_A_QUERY = 500


@dataclass(frozen=True)
class BulkPart:
    """One row group of one file: rows of one table, press and plant day, sorted by time."""

    part_id: int
    table: str
    file: str
    row_group: int
    press_id: str
    day: str
    rows: int
    min_us: int
    max_us: int

    def meets(self, from_us: int, to_us: int) -> bool:
        """Whether the part has rows in the time from `from_us` to `to_us`, both included."""
        return self.min_us <= to_us and self.max_us >= from_us


_COLUMNS = tuple(PARTS.c[name] for name in BulkPart.__dataclass_fields__)


def find_parts(
    connection: sa.Connection,
    table: str,
    condition: sa.ColumnElement[bool],
    presses: Collection[str] | None = None,
    from_us: int | None = None,
    to_us: int | None = None,
) -> list[BulkPart]:
    """Parts with time in [from_us, to_us), ordered by press and time; of all presses where none are named."""
    query = sa.select(*_COLUMNS).where(PARTS.c.table == table, condition)
    if presses is not None and len(presses) <= _KEYS_A_QUERY:
        query = query.where(PARTS.c.press_id.in_(presses))
    if from_us is not None:
        query = query.where(PARTS.c.max_us >= from_us)
    if to_us is not None:
        query = query.where(PARTS.c.min_us < to_us)
    query = query.order_by(PARTS.c.press_id, PARTS.c.min_us, PARTS.c.part_id)
    return [BulkPart(**row) for row in connection.execute(query).mappings()]


class PartWriter:
    """Adds and removes parts within one transaction; a batch's new parts share one file."""

    def __init__(self, connection: sa.Connection, files: PartFiles, version: int) -> None:
        self._connection = connection
        self._files = files
        self._version = version
        self._background = BackgroundWriter(files)
        self._groups: list[pa.RecordBatch] = []
        self._rows: list[dict[str, object]] = []
        self.written: list[str] = []

    def find(
        self, table: str, presses: Collection[str] | None, from_us: int, to_us: int, removed_by: int = 0
    ) -> list[BulkPart]:
        """Parts that hold now (or went up to the version `removed_by`) with time in [from_us, to_us), both included."""
        condition = PARTS.c.removed <= removed_by if removed_by else live(PARTS, self._version)
        return find_parts(
            self._connection, table, condition=condition, presses=presses, from_us=from_us, to_us=to_us + 1
        )

    def read(self, parts: Iterable[BulkPart], columns: Collection[str]) -> list[pa.Table]:
        """Rows of each part; parts of this transaction are waited for."""
        self.wait()
        return [self._files.read(part.file, part.row_group, tuple(columns)) for part in parts]

    def add(
        self,
        table: str,
        press_id: str,
        day: str,
        rows: pa.RecordBatch,
        span_us: tuple[int, int],
        loads: Collection[int],
    ) -> None:
        """Take rows of a press and day, sorted by time, for the file of this batch."""
        self._rows.append(
            {
                "table": table,
                "file": self._file,
                "row_group": len(self._groups),
                "press_id": press_id,
                "day": day,
                "rows": rows.num_rows,
                "min_us": span_us[0],
                "max_us": span_us[1],
                "loads": loads_text(loads),
                "added": self._version,
            }
        )
        self._groups.append(rows)

    def remove(self, parts: Iterable[BulkPart]) -> None:
        """Let parts hold no more from this version on."""
        ids = [{"given_id": part.part_id} for part in parts]
        if ids:
            query = sa.update(PARTS).where(PARTS.c.part_id == sa.bindparam("given_id")).values(removed=self._version)
            self._connection.execute(query, ids)

    def flush(self) -> None:
        """Send the batch's file to be written and register its parts."""
        if not self._groups:
            return
        self._background.submit(self._file, self._groups)
        self.written.append(self._file)
        self._connection.execute(sa.insert(PARTS), self._rows)
        self._groups, self._rows = [], []

    def wait(self) -> None:
        """Return once everything flushed is on the disk."""
        self._background.wait()

    def finished(self) -> dict[str, Written]:
        """Every file written in this transaction, by its name; waits for those under way."""
        self.wait()
        return self._background.done

    def close(self) -> None:
        """End the background thread."""
        self._background.close()

    @property
    def _file(self) -> str:
        return f"{FOLDER}/{self._version:08d}-{len(self.written):06d}.parquet"


def to_merge(parts: Iterable[BulkPart], rows: int) -> list[BulkPart]:
    """Parts of one press-day that are due to be merged with `rows` new ones, the smallest first."""
    taken: list[BulkPart] = []
    by_size = groupby(sorted(parts, key=lambda part: part.rows), key=lambda part: _size_class(part.rows))
    for size_class, alike in by_size:
        group = list(alike)
        if size_class > _size_class(rows):
            break
        if len(group) + 1 >= _FAN_IN:
            taken += group
            rows += sum(part.rows for part in group)
    return taken


def _size_class(rows: int) -> int:
    return (rows.bit_length() - 1) // 2  # powers of _FAN_IN
