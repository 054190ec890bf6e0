"""Reads what the footer of a Parquet file says of its row groups and column chunks.

pyarrow gives the same, but ends the whole process where some of it is damaged: an exception of its C++ part passes
through functions that do not let one pass.  Field numbers: https://parquet.apache.org/docs/file-format/metadata/
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from monitor.intake.opening import open_plain
from monitor.intake.parquet.compact import Short, Struct
from monitor.intake.places import shown_name
from shared.errors import RefusedFile
from shared.phrases import phrase
from shared.reasons.files import COPY_AGAIN, FOOTER_UNREADABLE, WHOLE_PARQUET_FILE

_TAIL = 8  # the footer's length and the magic word


@dataclass(frozen=True)
class ColumnChunk:
    """A column chunk: its column, values, and bytes as stored and unfolded; `begins` is where its first page lies."""

    name: str
    values: int
    stored: int
    claimed: int
    begins: int


@dataclass(frozen=True)
class Footer:
    """Rows of the file [rows], and of each row group with its chunks."""

    rows: int
    columns: int
    groups: tuple[tuple[int, tuple[ColumnChunk, ...]], ...]


def read_footer(path: Path) -> Footer:
    """Return the footer of a Parquet file; raises RefusedFile where it cannot be read."""
    try:
        with open_plain(path) as file:
            size = file.seek(0, 2)
            file.seek(max(0, size - _TAIL))
            length = int.from_bytes(file.read(_TAIL)[:4], "little")
            if not 0 < length <= size - _TAIL:
                raise ValueError(f"a footer of {length:,} bytes in {size:,}")
            file.seek(size - _TAIL - length)
            return _footer(Struct(file.read(length)).fields)
    except (Short, ValueError, LookupError, TypeError, AttributeError) as error:
        seen = phrase(FOOTER_UNREADABLE, why=f"{type(error).__name__}: {error}")
        mend = phrase(COPY_AGAIN)
        raise RefusedFile(shown_name(path), seen, phrase(WHOLE_PARQUET_FILE), mend) from None


def _footer(fields: Mapping[int, Any]) -> Footer:
    groups = [(_whole(group[3]), tuple(_chunk(chunk[3]) for chunk in group[1])) for group in fields[4]]
    columns = max((len(chunks) for _, chunks in groups), default=0)
    return Footer(_whole(fields[3]), columns, tuple(groups))


def _chunk(about: Mapping[int, Any]) -> ColumnChunk:
    name = b".".join(about[3]).decode("utf-8", "replace")
    pages = [_whole(about[field]) for field in (9, 11) if about.get(field)]
    return ColumnChunk(name, _whole(about[5]), _whole(about[7]), _whole(about[6]), min(pages, default=0))


def _whole(value: object) -> int:
    if not isinstance(value, int):
        raise ValueError(f"{type(value).__name__} where a whole number is expected")
    return value
