"""Reads the heads of the pages of a Parquet file, since room is made for what they claim before it is looked at.

A head is a struct in the compact protocol that the format prescribes (https://parquet.apache.org/docs/file-format/).
"""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path
from typing import BinaryIO

import pyarrow.parquet as pq

from shared.errors import RefusedFile

#: Bytes read of a head, and the most it may have: extremes of long texts may stand in it.
_HEAD_BYTES, _MOST_HEAD_BYTES = 4 << 10, 4 << 20
_DEEPEST = 16
#: A page may claim so much in any case: room that does no harm, whatever other writers count as their column.
_FREE_BYTES = 64 << 20
_STOP, _BYTE, _DOUBLE, _BINARY, _STRUCT = 0, 3, 7, 8, 12
_NUMBERS, _LISTS = (4, 5, 6), (9, 10)
_UNFOLDED, _FOLDED = 2, 3


class _Short(Exception):
    """The bytes at hand end within the head."""


class _Head:
    """The head of one page: where it ends, and its whole numbers by the number of their field."""

    def __init__(self, data: bytes) -> None:
        self._data = data
        self.end = 0
        self.numbers: dict[int, int] = {}
        self._struct(self.numbers, 0)

    def _byte(self) -> int:
        if self.end >= len(self._data):
            raise _Short
        self.end += 1
        return self._data[self.end - 1]

    def _number(self) -> int:
        value = shift = 0
        while shift < 70:
            byte = self._byte()
            value |= (byte & 0x7F) << shift
            if byte < 0x80:
                return value
            shift += 7
        raise ValueError("a number without an end")

    def _skip(self, count: int) -> None:
        self.end += count
        if self.end > len(self._data):
            raise _Short

    def _struct(self, numbers: dict[int, int], depth: int) -> None:
        field = 0
        while (mark := self._byte()) & 0x0F != _STOP:
            field = field + (mark >> 4) if mark >> 4 else _signed(self._number())
            self._value(mark & 0x0F, field, numbers, depth)

    def _value(self, kind: int, field: int, numbers: dict[int, int], depth: int) -> None:
        if kind in _NUMBERS:
            numbers[field] = _signed(self._number())
        elif kind == _STRUCT and depth < _DEEPEST:
            self._struct({}, depth + 1)
        elif kind in _LISTS and depth < _DEEPEST:
            self._list(depth)
        elif kind in (_BYTE, _DOUBLE, _BINARY):
            self._skip({_BYTE: 1, _DOUBLE: 8}.get(kind) or self._number())
        elif kind > 2:  # 1 and 2 are true and false, which need no more bytes.
            raise ValueError(f"a field of kind {kind}")

    def _list(self, depth: int) -> None:
        mark = self._byte()
        for _ in range(mark >> 4 if mark >> 4 < 15 else self._number()):
            self._value(mark & 0x0F, 0, {}, depth + 1)


def check_pages(path: Path, footer: pq.FileMetaData, names: Collection[str]) -> None:
    """Raise RefusedFile where a page of the columns named claims more bytes than its column chunk has."""
    with path.open("rb") as file:
        for number in range(footer.num_row_groups):
            group = footer.row_group(number)
            for place in range(group.num_columns):
                chunk = group.column(place)
                if chunk.path_in_schema in names and chunk.num_values:
                    where = f"{path.name}, row group {number + 1}, column {chunk.path_in_schema}"
                    _check_chunk(file, chunk, where)


def _check_chunk(file: BinaryIO, chunk: pq.ColumnChunkMetaData, where: str) -> None:
    at = chunk.data_page_offset
    if chunk.has_dictionary_page and chunk.dictionary_page_offset:
        at = min(at, chunk.dictionary_page_offset)
    ends, most = at + chunk.total_compressed_size, max(chunk.total_uncompressed_size, _FREE_BYTES)
    while at < ends:
        try:
            head = _head(file, at)
        except (_Short, ValueError) as error:
            raise _wrong(where, f"a page without a head that can be read ({error or 'it ends too soon'})") from None
        unfolded, folded = (head.numbers.get(field, -1) for field in (_UNFOLDED, _FOLDED))
        if not 0 <= unfolded <= most or not 0 <= folded <= ends - at - head.end:
            raise _wrong(where, f"a page of {folded:,} bytes that claims {unfolded:,} unfolded")
        at += head.end + folded


def _head(file: BinaryIO, at: int) -> _Head:
    size = _HEAD_BYTES
    while True:
        file.seek(at)
        data = file.read(size)
        try:
            return _Head(data)
        except _Short:
            if len(data) < size or size >= _MOST_HEAD_BYTES:
                raise
            size *= 32


def _signed(value: int) -> int:
    return (value >> 1) ^ -(value & 1)


def _wrong(where: str, seen: str) -> RefusedFile:
    return RefusedFile(where, seen, "pages no larger than their column", "Write the file anew, or check its source")
