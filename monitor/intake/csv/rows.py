"""CSV files to raw rows: text cells under the header's names, each with its true line in the file.

A block in which every line is one row goes through Arrow whole.  Where it does not (quoted line ends, blank lines,
rows of the wrong width), the lines at fault are looked at one by one.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import islice
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv as pacsv

from monitor.intake.batch import Rejected
from monitor.intake.chunk import Raw
from monitor.intake.csv.cut_short import may_be_cut
from monitor.intake.csv.text_blocks import Block, text_blocks
from monitor.intake.headings import check_headings
from monitor.intake.places import in_line, not_as_wide, shown_name
from shared.errors import RefusedFile
from shared.phrases import phrase
from shared.reasons.files import (
    CHECK_FILE,
    CHECK_WHOLE_FILE,
    HEADER_ROW,
    HEADINGS,
    HEADINGS_NEEDED,
    LINE_END_CR,
    LINE_END_LF,
    NO_HEADINGS,
    NO_ROWS,
    RENAME_HEADINGS,
    SAVE_LINE_ENDS,
)
from shared.reasons.rows import LINE_NOT_TEXT, OPEN_QUOTE
from shared.table import Table

_PIECE_BYTES = 256 << 10
_PIECES = 16
_ARROW_BYTES = 4 << 20
_EMPTY = phrase(NO_ROWS), phrase(HEADER_ROW), phrase(CHECK_WHOLE_FILE)
_MOST_LINES_A_ROW = 200
_CR_ALONE = (
    phrase(LINE_END_CR),
    phrase(LINE_END_LF),
    phrase(SAVE_LINE_ENDS),
)
_UNNAMED = "column "
_OPEN_QUOTE = phrase(OPEN_QUOTE)


def csv_rows(path: Path, table: Table) -> Iterator[Raw]:
    """The rows of a CSV file, a block at a time, at least one; raises RefusedFile."""
    names: tuple[str, ...] = ()
    before: Raw | None = None
    above = b""
    for block in text_blocks(path):
        if not names:
            names, block = _without_header(block, table, shown_name(path))
        if not block.whole and before:
            before = _joined([before, _last_line(block, above, names, table)])
        elif names:
            if before:
                yield before
            before = _cut(block, names)
        above = block.data
    if before is None:
        raise RefusedFile(shown_name(path), *_EMPTY)
    yield replace(before, ignored=tuple(n for n in names if n not in table.columns and not n.startswith(_UNNAMED)))


def _without_header(block: Block, table: Table, name: str) -> tuple[tuple[str, ...], Block]:
    """The names in the first line that is not blank, and the block behind it."""
    data, line = block.data, block.line
    while data:
        end = data.find(b"\n") + 1 or len(data)
        text = data[:end].decode("utf-8", errors="replace").strip("\r\n")
        data, line = data[end:], line + 1
        if text.strip():
            return _checked_names(text, table, in_line(name, line - 1)), Block(data, line, block.whole or not data)
    return (), Block(b"", line)


def _checked_names(text: str, table: Table, where: str) -> tuple[str, ...]:
    if "\r" in text:
        raise RefusedFile(where, *_CR_ALONE)
    try:
        cells = next(csv.reader([text]))
    except csv.Error as error:
        seen = phrase(NO_HEADINGS, why=str(error))
        raise RefusedFile(where, seen, phrase(HEADER_ROW), phrase(CHECK_FILE)) from None
    names = tuple(cell.strip() or f"{_UNNAMED}{place}" for place, cell in enumerate(cells, 1))
    check_headings(names, where)
    missing = [name for name in table.required if name not in names]
    if missing:
        raise RefusedFile(
            where,
            phrase(HEADINGS, seen=text[:200]),
            phrase(HEADINGS_NEEDED, table=table.name, missing=", ".join(missing)),
            phrase(RENAME_HEADINGS),
        )
    return names


def _cut(block: Block, names: tuple[str, ...]) -> Raw:
    """All rows of a block, in order."""
    return _joined(list(_pieces(block, names)))


def _joined(raws: list[Raw]) -> Raw:
    if len(raws) == 1:
        return raws[0]
    return Raw(
        pa.concat_batches([raw.cells for raw in raws]),
        np.concatenate([raw.line for raw in raws]),
        [rejected for raw in raws for rejected in raw.rejected],
    )


def _pieces(block: Block, names: tuple[str, ...]) -> Iterator[Raw]:
    quick = _line_by_row(block, names)
    if quick:
        yield quick
        return
    pieces = list(_split(block)) if len(block.data) > _PIECE_BYTES else []
    if len(pieces) < 2:
        yield _row_by_row(block, names)
    for piece in pieces if len(pieces) > 1 else ():
        yield from _pieces(piece, names)


def _split(block: Block) -> Iterator[Block]:
    """The block in smaller ones, so that one bad line does not slow the others."""
    data, line, start = block.data, block.line, 0
    size = len(data) // _PIECES
    while start < len(data):
        end = _calm_line_end(data, min(start + size, len(data) - 1))
        yield Block(data[start:end], line)
        line += data.count(b"\n", start, end)
        start = end


def _calm_line_end(data: bytes, place: int) -> int:
    """Behind the next line end that surely ends a row: no line of those a row may run over leaves a quote open."""
    end = data.find(b"\n", place) + 1 or len(data)
    calm = _calm_lines(data, end) if b'"' in data else _MOST_LINES_A_ROW
    while calm < _MOST_LINES_A_ROW and end < len(data):
        following = data.find(b"\n", end) + 1 or len(data)
        calm = 0 if data.count(b'"', end, following) % 2 else calm + 1
        end = following
    return end


def _calm_lines(data: bytes, end: int) -> int:
    """Number of lines before a line end back to one with an odd number of quotes, at most those a row may run over."""
    for calm in range(_MOST_LINES_A_ROW):
        before = data.rfind(b"\n", 0, end - 1) + 1
        if data.count(b'"', before, end) % 2:
            return calm
        if not before:
            break
        end = before
    return _MOST_LINES_A_ROW


def _line_by_row(block: Block, names: tuple[str, ...]) -> Raw | None:
    """The block through Arrow, or None unless it is certain that each line is one row."""
    data = block.data
    if b"\r" in data and data.count(b"\r") != data.count(b"\r\n"):
        return None
    try:
        rows = pacsv.read_csv(
            pa.BufferReader(data),
            # One block where there are quotes, so that Arrow does not cut through a quoted line end.
            pacsv.ReadOptions(column_names=names, block_size=len(data) + 1 if b'"' in data else _ARROW_BYTES),
            convert_options=pacsv.ConvertOptions(
                column_types=dict.fromkeys(names, pa.string()), strings_can_be_null=True, null_values=[""]
            ),
        )
    except pa.ArrowInvalid:
        return None
    # Blank lines give no row and quoted line ends give fewer rows than lines, so equal counts mean neither is there.
    if len(rows) != block.lines or _runs_over(rows):
        return None
    return Raw(_one_batch(rows), block.line + np.arange(len(rows)))


def _runs_over(rows: pa.Table) -> bool:
    """Whether the last cell opens a quote that the block does not close; Arrow takes the line end into the cell."""
    return bool(len(rows)) and (rows.column(-1)[-1].as_py() or "").endswith("\n")


def _one_batch(rows: pa.Table) -> pa.RecordBatch:
    columns = [column.combine_chunks() for column in rows.columns]
    return pa.RecordBatch.from_arrays(columns, names=rows.column_names)


def _row_by_row(block: Block, names: tuple[str, ...]) -> Raw:
    lines = block.text().removesuffix("\n").split("\n")
    rows: list[list[str]] = []
    places: list[int] = []
    rejected = []
    for place, span, cells in _records(lines):
        cells = _fitting(cells, len(names))
        if len(cells) == len(names):
            rows.append(cells)
            places.append(block.line + place)
        else:
            reason = not_as_wide(len(cells), len(names))
            text = "\n".join(lines[place : place + span])
            rejected.append(Rejected(block.line + place, reason if cells else _OPEN_QUOTE, _as_came(text)))
    columns = zip(*rows, strict=True) if rows else [()] * len(names)
    arrays = [pa.array([cell or None for cell in column], pa.string()) for column in columns]
    return Raw(pa.RecordBatch.from_arrays(arrays, names=list(names)), np.array(places, dtype=np.int64), rejected)


def _as_came(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _fitting(cells: list[str], width: int) -> list[str]:
    """The cells without the empty ones that spreadsheets add at the end of a row."""
    return cells[:width] if len(cells) > width and not any(cells[width:]) else cells


def _records(lines: Sequence[str]) -> Iterator[tuple[int, int, list[str]]]:
    """Place, number of lines and cells of each row; no cells where a quote is never closed."""
    place = 0
    while place < len(lines):
        line = lines[place].removesuffix("\r")
        span = 1
        if '"' in line:
            cells, span = _quoted(lines, place)
            yield place, span, cells
        elif line:
            yield place, span, line.split(",")
        place += span


def _quoted(lines: Sequence[str], place: int) -> tuple[list[str], int]:
    reader = csv.reader((line + "\n" for line in islice(lines, place, place + _MOST_LINES_A_ROW)), strict=True)
    try:
        return next(reader), reader.line_num
    except csv.Error:
        pass
    try:
        cells = next(csv.reader([lines[place] + "\n"]))
    except csv.Error:
        return [], 1
    return ([], 1) if cells[-1].endswith("\n") else (cells, 1)


def _last_line(block: Block, above: bytes, names: tuple[str, ...], table: Table) -> Raw:
    """The last line of the file, which has no line end: taken only where it cannot have been cut short."""
    nothing = pa.RecordBatch.from_arrays([pa.array([], pa.string())] * len(names), names=list(names))
    text = block.text()
    cells = next(iter(_records([text])), (0, 1, []))[2]
    if not text.strip():
        return Raw(nothing, np.array([], dtype=np.int64))
    reason = may_be_cut(cells, above, names, table)
    if "\0" in text or "\ufffd" in text:
        reason = phrase(LINE_NOT_TEXT)
    if reason:
        return Raw(nothing, np.array([], dtype=np.int64), [Rejected(block.line, reason, _as_came(text))])
    return _row_by_row(Block(block.data, block.line), names)
