"""Reads the heads of the pages of a Parquet file, since room is made for what they claim before it is looked at.

A head is a struct in the compact protocol that the format prescribes (https://parquet.apache.org/docs/file-format/).
"""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path
from typing import BinaryIO

from monitor.intake.opening import open_plain
from monitor.intake.parquet.compact import Short, Struct
from monitor.intake.parquet.footer import ColumnChunk, Footer
from monitor.intake.places import shown_name
from shared.errors import RefusedFile
from shared.phrases import phrase
from shared.reasons.files import PAGE_TOO_LARGE, PAGE_WITHOUT_HEAD, PAGES_WITHIN_COLUMN, WRITE_ANEW

#: Bytes read of a head, and the most it may have: extremes of long texts may stand in it.
_HEAD_BYTES, _MOST_HEAD_BYTES = 4 << 10, 4 << 20
#: A page may claim so much in any case: room that does no harm, whatever other writers count as their column.
_FREE_BYTES = 64 << 20
_UNFOLDED, _FOLDED = 2, 3


def check_pages(path: Path, footer: Footer, names: Collection[str]) -> None:
    """Raise RefusedFile where a page of the columns named claims more bytes than its column chunk has."""
    with open_plain(path) as file:
        for number, (_, chunks) in enumerate(footer.groups):
            for chunk in chunks:
                if chunk.name in names and chunk.values:
                    _check_chunk(file, chunk, f"{shown_name(path)}, row group {number + 1}, column {chunk.name}")


def _check_chunk(file: BinaryIO, chunk: ColumnChunk, where: str) -> None:
    at, ends, most = chunk.begins, chunk.begins + chunk.stored, max(chunk.claimed, _FREE_BYTES)
    while at < ends:
        try:
            head = _head(file, at)
        except (Short, ValueError):
            raise _wrong(where, phrase(PAGE_WITHOUT_HEAD)) from None
        told = (head.fields.get(field) for field in (_UNFOLDED, _FOLDED))
        unfolded, folded = (value if isinstance(value, int) else -1 for value in told)
        if not 0 <= unfolded <= most or not 0 <= folded <= ends - at - head.end:
            raise _wrong(where, phrase(PAGE_TOO_LARGE, folded=f"{folded:,}", unfolded=f"{unfolded:,}"))
        at += head.end + folded


def _head(file: BinaryIO, at: int) -> Struct:
    size = _HEAD_BYTES
    while True:
        file.seek(at)
        data = file.read(size)
        try:
            return Struct(data)
        except Short:
            if len(data) < size or size >= _MOST_HEAD_BYTES:
                raise
            size *= 32


def _wrong(where: str, seen: str) -> RefusedFile:
    mend = phrase(WRITE_ANEW)
    return RefusedFile(where, seen, phrase(PAGES_WITHIN_COLUMN), mend)
