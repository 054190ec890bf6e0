"""Cuts a text file into blocks of whole lines; refuses what is not UTF-8 text."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import BinaryIO

from monitor.intake.csv.magic import MAGIC_BYTES, refuse_binary
from monitor.intake.opening import open_plain
from monitor.intake.places import in_line, shown_name
from shared.errors import RefusedFile
from shared.phrases import phrase
from shared.reasons.files import (
    BYTE_NOT_UTF_8,
    CHECK_FILE,
    NO_LINE_END,
    ROWS_OF_TEXT,
    SAVE_UTF_8_OR_ENCODING,
    SAVE_UTF_8_OR_PROFILE,
    UTF_8_TEXT,
    UTF_16_TEXT,
    ZERO_BYTE,
)

BLOCK_BYTES = 16 << 20  # about half a million counter readings
_BOM = b"\xef\xbb\xbf"
_WIDE_BOMS = (b"\xff\xfe", b"\xfe\xff")
_TRIES = 1000
_ENDLESS = phrase(NO_LINE_END), phrase(ROWS_OF_TEXT), phrase(CHECK_FILE)


@dataclass(frozen=True)
class Block:
    """Lines of a file from line `line` on (1 = first); `whole` is false for a last line that has no line end."""

    data: bytes
    line: int
    whole: bool = True

    @cached_property
    def lines(self) -> int:
        """Number of line ends."""
        return self.data.count(b"\n")

    def text(self) -> str:
        """The block as text; what is not UTF-8 (only in a last line without end) is shown as it can be."""
        return self.data.decode("utf-8", errors="replace")


def text_blocks(path: Path) -> Iterator[Block]:
    """The file in blocks of about 16 MB; raises RefusedFile where it is not UTF-8 text, OSError."""
    with open_plain(path) as file:
        yield from _blocks(file, shown_name(path))


def _blocks(file: BinaryIO, name: str) -> Iterator[Block]:
    refuse_binary(file.read(MAGIC_BYTES), name)
    file.seek(0)
    rest, line = _start(file.read(len(_BOM)), name), 1
    while piece := file.read(BLOCK_BYTES):
        data = rest + piece
        cut = _last_record_end(data)
        if not cut and len(data) > 2 * BLOCK_BYTES:
            raise RefusedFile(in_line(name, line), *_ENDLESS)
        if cut:
            block = _checked(Block(data[:cut], line), name)
            yield block
            line += block.lines
        rest = data[cut:]
    cut = rest.rfind(b"\n") + 1
    if cut:
        yield _checked(Block(rest[:cut], line), name)
    if rest[cut:]:
        yield Block(rest[cut:], line + rest.count(b"\n"), whole=False)


def _start(first: bytes, name: str) -> bytes:
    """The first bytes without the byte order mark."""
    if first.startswith(_WIDE_BOMS):
        mend = phrase(SAVE_UTF_8_OR_PROFILE)
        raise RefusedFile(name, phrase(UTF_16_TEXT), phrase(UTF_8_TEXT), mend)
    return first.removeprefix(_BOM)


def _last_record_end(data: bytes) -> int:
    """Where the last whole record ends: after a line end that no open quote runs over, if there is one near."""
    end = data.rfind(b"\n") + 1
    if b'"' not in data:
        return end
    cut, quotes = end, data.count(b'"', 0, end)
    for _ in range(_TRIES):
        if not cut or quotes % 2 == 0:
            break
        before = data.rfind(b"\n", 0, cut - 1) + 1
        quotes -= data.count(b'"', before, cut)
        cut = before
    return cut or end


def _checked(block: Block, name: str) -> Block:
    """The block, where it is UTF-8 text; raises RefusedFile naming the line."""
    nul = block.data.find(b"\0")
    if nul >= 0:
        raise _not_text(block, nul, phrase(ZERO_BYTE), name)
    if not block.data.isascii():
        try:
            block.data.decode("utf-8")
        except UnicodeDecodeError as error:
            seen = phrase(BYTE_NOT_UTF_8, byte=f"{block.data[error.start]:02X}")
            raise _not_text(block, error.start, seen, name) from None
    return block


def _not_text(block: Block, place: int, seen: str, name: str) -> RefusedFile:
    line = block.line + block.data.count(b"\n", 0, place)
    return RefusedFile(
        in_line(name, line),
        seen,
        phrase(UTF_8_TEXT),
        phrase(SAVE_UTF_8_OR_ENCODING),
    )
