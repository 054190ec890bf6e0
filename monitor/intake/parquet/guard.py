"""Holds the memory of reading a Parquet file: what its footer claims, and what its dictionaries grow to."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import pyarrow as pa
import pyarrow.compute as pc

from monitor.intake.headings import MOST_COLUMNS
from monitor.intake.parquet.footer import ColumnChunk, Footer
from monitor.intake.places import in_column
from monitor.intake.values import is_text
from shared.errors import RefusedFile
from shared.phrases import Phrase, phrase
from shared.reasons.files import (
    AT_MOST,
    BYTES_AT_MOST,
    COLUMN_COUNT,
    COLUMN_TOO_LARGE,
    COLUMN_TYPE,
    PLAIN_TYPE,
    ROWS_AND_GROUPS,
    ROWS_HELD,
    ROWS_IN_BYTES,
    TEXT_TOO_LARGE,
    WRITE_ANEW,
    WRITE_FITTING_TYPE,
)

# No real file comes near these (common practice, no source); a small file that claims more is a trap or damaged.
_MOST_ROWS_A_BYTE = 50
_MOST_BYTES_A_ROW = 256
_FREE_ROWS = 1 << 20
_FREE_BYTES = 64 << 20
_MOST_TEXT_BYTES = 256 << 20


def check_claims(footer: Footer, size: int, names: Iterable[str], where: str) -> None:
    """Raise RefusedFile where the footer claims rows or bytes that a file of this size [bytes] cannot hold."""
    if footer.columns > MOST_COLUMNS:
        raise _absurd(where, _columns(footer.columns), _at_most(MOST_COLUMNS))
    rows = [count for count, _ in footer.groups]
    if any(count < 0 for count in rows) or sum(rows) != footer.rows:
        seen = phrase(ROWS_AND_GROUPS, n=f"{footer.rows:,}", held=f"{sum(rows):,}")
        raise _absurd(where, seen, phrase(ROWS_HELD))
    most = _FREE_ROWS + _MOST_ROWS_A_BYTE * size
    if footer.rows > most:
        raise _absurd(where, phrase(ROWS_IN_BYTES, n=f"{footer.rows:,}", size=f"{size:,}"), _at_most(most))
    wanted = set(names)
    for number, (count, chunks) in enumerate(footer.groups):
        _check_group(chunks, count, size, wanted, f"{where}, row group {number + 1}")


def _check_group(chunks: Iterable[ColumnChunk], rows: int, size: int, wanted: set[str], where: str) -> None:
    most = _FREE_BYTES + _MOST_BYTES_A_ROW * rows
    for chunk in chunks:
        if chunk.name not in wanted:
            continue
        if not 0 <= chunk.stored <= size or not 0 <= chunk.claimed <= most:
            seen = phrase(COLUMN_TOO_LARGE, column=chunk.name, size=f"{chunk.claimed:,}", n=f"{rows:,}")
            raise _absurd(where, seen, phrase(BYTES_AT_MOST, n=f"{most:,}"))


def check_types(schema: pa.Schema, names: Sequence[str], where: str) -> None:
    """Raise RefusedFile for a column of a type that no column of the contract is ever read from."""
    for name in names:
        kind = schema.field(name).type
        plain = is_text(kind) or not (pa.types.is_nested(kind) or pa.types.is_dictionary(kind))
        if not plain or pa.types.is_fixed_size_binary(kind) or pa.types.is_binary(kind):
            seen, expected = phrase(COLUMN_TYPE, kind=str(kind)), phrase(PLAIN_TYPE)
            raise RefusedFile(in_column(where, name), seen, expected, phrase(WRITE_FITTING_TYPE))


def check_texts(batch: pa.RecordBatch, where: str) -> None:
    """Raise RefusedFile where the words of a dictionary, written out for every row, would take too much memory.

    Raises pa.ArrowInvalid where they are not UTF-8: Arrow takes what the file says on trust.
    """
    for name, column in zip(batch.schema.names, batch.columns, strict=True):
        column.validate(full=True)
        if pa.types.is_dictionary(column.type) and len(column.dictionary):
            lengths = pc.binary_length(column.dictionary)
            if (pc.max(lengths).as_py() or 0) * len(column) <= _MOST_TEXT_BYTES:
                continue
            written = pc.sum(lengths.cast(pa.int64()).take(column.indices)).as_py() or 0
            if written > _MOST_TEXT_BYTES:
                seen = phrase(TEXT_TOO_LARGE, size=f"{written:,}", n=f"{len(column):,}")
                raise _absurd(in_column(where, name), seen, _at_most(_MOST_TEXT_BYTES))


def _columns(number: int) -> Phrase:
    return phrase(COLUMN_COUNT, n=f"{number:,}")


def _at_most(number: int) -> Phrase:
    return phrase(AT_MOST, n=f"{number:,}")


def _absurd(where: str, seen: str, expected: str) -> RefusedFile:
    return RefusedFile(where, seen, expected, phrase(WRITE_ANEW))
