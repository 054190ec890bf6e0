"""Parquet files to raw rows: the contract's columns in the types the file has, each row with its number."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from monitor.intake.chunk import Raw
from monitor.intake.opening import open_plain
from monitor.intake.parquet.footer import read_footer
from monitor.intake.parquet.guard import check_claims, check_texts, check_types
from monitor.intake.parquet.pages import check_pages
from monitor.intake.places import shown_name
from monitor.intake.values import is_text
from shared.errors import RefusedFile
from shared.fields import Kind
from shared.phrases import phrase
from shared.reasons.files import (
    COLUMNS,
    COLUMNS_ONCE,
    COPY_AGAIN,
    PARQUET_UNREADABLE,
    RENAME_COLUMNS,
    WHOLE_PARQUET_FILE,
)
from shared.table import Table

BATCH_ROWS = 1 << 20  # as many as most writers put into a row group


def parquet_rows(path: Path, table: Table) -> Iterator[Raw]:
    """The rows of a Parquet file, at most a million at a time, at least one batch; raises RefusedFile, OSError."""
    try:
        yield from _rows(path, table)
    except (pa.ArrowException, OSError, ValueError) as error:
        # Of the system's errors only that of a place which the file does not have tells of a damaged file.
        if isinstance(error, OSError) and error.errno not in (None, errno.EINVAL):
            raise
        seen = str(error).strip().splitlines()[0][:200] if str(error).strip() else type(error).__name__
        told = phrase(PARQUET_UNREADABLE, why=seen)
        mend = phrase(COPY_AGAIN)
        raise RefusedFile(shown_name(path), told, phrase(WHOLE_PARQUET_FILE), mend) from None


def _rows(path: Path, table: Table) -> Iterator[Raw]:
    with open_plain(path) as source, pq.ParquetFile(source, page_checksum_verification=True) as file:
        schema = file.schema_arrow
        _check_names(schema.names, table, shown_name(path))
        names = [name for name in table.columns if name in schema.names]
        check_types(schema, names, shown_name(path))
        footer = read_footer(path)
        check_claims(footer, os.fstat(source.fileno()).st_size, names, shown_name(path))
        check_pages(path, footer, names)
    ignored = tuple(name for name in schema.names if name not in table.columns)
    # As a dictionary, text is quicker to check, and one long word stands there once however many rows it has.
    texts = [name for name in names if is_text(schema.field(name).type)]
    with (
        open_plain(path) as source,
        pq.ParquetFile(source, read_dictionary=texts, page_checksum_verification=True) as file,
    ):
        row = 1
        for batch in file.iter_batches(BATCH_ROWS, columns=names):
            check_texts(batch, shown_name(path))
            yield Raw(_written_out(batch.select(names), table), np.arange(row, row + len(batch)), ignored=ignored)
            row += len(batch)
        if row == 1:
            nothing = [pa.array([], schema.field(name).type) for name in names]
            yield Raw(pa.RecordBatch.from_arrays(nothing, names=names), np.arange(0), ignored=ignored)


def _written_out(batch: pa.RecordBatch, table: Table) -> pa.RecordBatch:
    """The batch with numbers and times that came as text in plain text again."""
    columns = [
        column.cast(pa.string())
        if pa.types.is_dictionary(column.type) and table.field(name).kind is not Kind.TEXT
        else column
        for name, column in zip(batch.schema.names, batch.columns, strict=True)
    ]
    return pa.RecordBatch.from_arrays(columns, names=batch.schema.names)


def _check_names(found: list[str], table: Table, where: str) -> None:
    missing = [name for name in table.required if name not in found]
    twice = [name for name in table.columns if found.count(name) > 1]
    if missing or twice:
        raise RefusedFile(
            where,
            phrase(COLUMNS, names=", ".join(found)[:200]),
            phrase(COLUMNS_ONCE, table=table.name, names=", ".join(missing or twice)),
            phrase(RENAME_COLUMNS),
        )
