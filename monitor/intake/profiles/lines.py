"""Text files of any encoding to records: cells with the line they begin on; memory stays bounded whatever comes."""

from __future__ import annotations

import codecs
import csv
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import BinaryIO, NamedTuple

from monitor.intake.csv.magic import MAGIC_BYTES, refuse_binary
from monitor.intake.opening import open_plain
from monitor.intake.places import shown_name
from monitor.intake.profiles.parts import Layout
from shared.errors import RefusedFile
from shared.phrases import Phrase, phrase
from shared.reasons.rows import OPEN_QUOTE

_PIECE_BYTES = 1 << 20
_LONGEST_LINE = 1 << 20
_MOST_LINES_A_ROW = 50


class TextLine(NamedTuple):
    """A line of text without its end; `whole` is false where the file ends without one."""

    number: int
    text: str
    whole: bool


class Record(NamedTuple):
    """Cells of a row, the line it begins on, the text it was cut from; a `fault` where it could not be cut."""

    line: int
    cells: list[str]
    text: str
    fault: Phrase | None = None
    whole: bool = True


def text_lines(path: Path, encoding: str) -> Iterator[TextLine]:
    """The lines of a file; raises RefusedFile where it is not text of that encoding or a line never ends, OSError."""
    with open_plain(path) as file:
        refuse_binary(file.read(MAGIC_BYTES), shown_name(path))
        file.seek(0)
        yield from _lines(file, encoding, shown_name(path))


def _lines(file: BinaryIO, encoding: str, name: str) -> Iterator[TextLine]:
    rest, number = "", 1
    for text in _decoded(file, encoding, name):
        first, *others = text.split("\n")
        rest += first
        for following in others:
            yield _checked(TextLine(number, rest.removesuffix("\r"), True), name)
            rest, number = following, number + 1
        if len(rest) > _LONGEST_LINE:
            seen = f"no line end in {_LONGEST_LINE:,} characters"
            raise RefusedFile(f"{name}, line {number}", seen, "rows of text", "Check what the file is")
    if rest:
        yield _checked(TextLine(number, rest, False), name)


def _decoded(file: BinaryIO, encoding: str, name: str) -> Iterator[str]:
    decoder = codecs.getincrementaldecoder(encoding)()
    line, first = 1, True
    while piece := file.read(_PIECE_BYTES):
        try:
            text = decoder.decode(piece)
        except UnicodeError as error:
            before = piece[: error.start] if isinstance(error, UnicodeDecodeError) else b""
            line += before.decode(encoding, errors="replace").count("\n")
            seen = f"bytes that are not {encoding}"
            mend = "Name the encoding the file has, or write the file in one encoding"
            raise RefusedFile(f"{name}, about line {line}", seen, f"{encoding} text", mend) from None
        line += text.count("\n")
        yield text.removeprefix("\ufeff") if first else text
        first = False
    # Half a character at the very end belongs to a last line cut short, which is looked at by itself.


def _checked(line: TextLine, name: str) -> TextLine:
    if "\0" in line.text:
        seen = "a zero byte, so not plain text of this encoding"
        raise RefusedFile(f"{name}, line {line.number}", seen, "plain text", "Check the encoding in the profile")
    return line


def records(lines: Iterator[TextLine], layout: Layout) -> Iterator[Record]:
    """The rows of the lines, blank lines left out; a quote that is never closed costs its own line alone."""
    waiting: list[TextLine] = []
    while True:
        line = waiting.pop(0) if waiting else next(lines, None)
        if line is None:
            return
        if layout.quote not in line.text:
            if line.text.strip():
                yield Record(line.number, line.text.split(layout.delimiter), line.text, whole=line.whole)
            continue
        waiting += islice(lines, max(0, _needed([line, *waiting], layout.quote) - len(waiting)))
        span, cells = _quoted([line, *waiting], layout)
        text = "\n".join(one.text for one in [line, *waiting[: span - 1]])
        whole = [line, *waiting][span - 1].whole
        yield Record(line.number, cells, text, None if cells else phrase(OPEN_QUOTE), whole)
        waiting = waiting[span - 1 :]


def _needed(lines: list[TextLine], quote: str) -> int:
    """How many further lines may be needed to close a quote that the first one leaves open."""
    return _MOST_LINES_A_ROW if lines[0].text.count(quote) % 2 else 0


def _quoted(lines: list[TextLine], layout: Layout) -> tuple[int, list[str]]:
    """Number of lines and cells of the row that begins with the first line; no cells where it cannot be cut."""
    for text in (lines[:_MOST_LINES_A_ROW], lines[:1]):
        reader = csv.reader(
            (line.text + "\n" for line in text), delimiter=layout.delimiter, quotechar=layout.quote, strict=True
        )
        try:
            cells = next(reader)
        except csv.Error:
            continue
        return reader.line_num, cells
    return 1, []
