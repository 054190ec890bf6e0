"""Files made to do harm, or to look like what they are not: refused or set aside with a reason, in bounded memory."""

from __future__ import annotations

import gzip
import io
import time
import tracemalloc
import zipfile
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from shared.errors import RefusedFile
from tests.intake.taking import take, take_file, take_table

HEAD = "time,press_id,counter\n"
ROW = "2026-11-02T06:00Z,P07,1\n"


def zipped(data: bytes) -> bytes:
    sink = io.BytesIO()
    with zipfile.ZipFile(sink, "w") as archive:
        archive.writestr("strokes.csv", data)
    return sink.getvalue()


@pytest.mark.parametrize(
    ("data", "seen"),
    [
        (zipped(ROW.encode()), "a zip archive or a spreadsheet"),
        (gzip.compress(ROW.encode()), "a gzip archive"),
        (HEAD.encode() + b"2026-11-02T06:00Z,P\x0007,1\n", "a zero byte"),
        (HEAD.encode() + "ä".encode() + b"\n" + "ä".encode("cp1252") + b"\n", "byte 0xE4"),
        ((HEAD + ROW).encode("utf-16"), "UTF-16 text"),
        (b"", "no rows at all"),
        (b"\n\r\n\n", "no rows at all"),
        (b"time,press_id,counter,time\n", "time more than once"),
        (("time,press_id,counter," + ",".join(map(str, range(10_000))) + "\n").encode(), "10,003 columns"),
        (b"time,press_id," + b"c" * 200_000 + b"\n", "no headings"),
        (b"<html><body><table></table></body></html>\n", "the headings"),
        (b"%PDF-1.7\n", "a PDF document"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_is_no_table_of_text_is_refused(tmp_path: Path, data: bytes, seen: str) -> None:
    with pytest.raises(RefusedFile) as refused:
        take(tmp_path, "strokes.csv", data)
    assert seen in refused.value.seen


def test_a_header_alone_is_an_empty_file(tmp_path: Path) -> None:
    taken = take(tmp_path, "strokes.csv", HEAD)
    assert (taken.rows, taken.rejected) == ([], [])


def test_a_line_of_three_gigabytes_is_refused_without_reading_it_all(tmp_path: Path) -> None:
    path = tmp_path / "strokes.csv"
    with path.open("wb") as file:
        file.write(HEAD.encode())
        file.truncate(3 << 30)  # a hole, which takes no space on the disk
    tracemalloc.start()
    begun = time.perf_counter()
    try:
        with pytest.raises(RefusedFile, match="no line end in 32 MB"):
            take_file(path)
        assert tracemalloc.get_traced_memory()[1] < 300 << 20
    finally:
        tracemalloc.stop()
    assert time.perf_counter() - begun < 20


def test_thousands_of_columns_are_read_and_named_in_few_words(tmp_path: Path) -> None:
    more = [f"c{number}" for number in range(9_000)]
    text = f"time,press_id,counter,{','.join(more)}\n{ROW.strip()}{',x' * len(more)}\n"
    taken = take(tmp_path, "strokes.csv", text)
    assert taken.column("counter") == [1]
    assert len(taken.notes) == 21
    assert taken.notes[-1] == "8,980 more columns are not part of strokes"


@pytest.mark.parametrize("name", ["\u202eP07", "P07\u200b", "P\u200f07", "P0\x1b7", "P07\u2028x"])
def test_a_name_with_signs_that_do_not_show_is_set_aside(tmp_path: Path, name: str) -> None:
    taken = take(tmp_path, "strokes.csv", f"{HEAD}2026-11-02T06:00Z,{name},1\n")
    [rejected] = taken.rejected
    assert rejected.reason == f"press_id is {name!a}, expected a name without signs that do not show"
    assert rejected.waits_for == ()


@pytest.mark.parametrize("name", ["../../etc/passwd", "..", "C:\\x", "=1+1", "<b>P</b>", "'; DROP TABLE strokes; --"])
def test_a_name_may_look_like_anything_and_stays_a_name(tmp_path: Path, name: str) -> None:
    taken = take(tmp_path, "causes.csv", f'cause,name\n"{name}","{name}\n{name}"\n')
    assert (taken.column("cause"), taken.column("name")) == ([name], [f"{name}\n{name}"])


def one_word(rows: int, word: str) -> pa.Array:
    return pa.DictionaryArray.from_arrays(pa.array(np.zeros(rows, dtype="int32")), pa.array([word]))


@pytest.mark.parametrize("column", ["time", "press_id", "counter"])
def test_a_word_that_would_fill_the_memory_is_refused(tmp_path: Path, column: str) -> None:
    rows = 100_000
    table = {
        "time": one_word(rows, "2026-11-02T06:00Z"), "press_id": one_word(rows, "P07"),
        "counter": np.arange(rows),
    } | {column: one_word(rows, "x" * 1_000_000)}  # fmt: skip
    with pytest.raises(RefusedFile, match=r"100,000,000,000 bytes of text in 100,000 rows"):
        take_table(tmp_path, "strokes.parquet", pa.table(table))


def test_a_few_bytes_that_unfold_into_endless_rows_are_refused(tmp_path: Path) -> None:
    rows = 1_000_000
    zeros = pa.array(np.zeros(rows, dtype="int64"))
    same = pa.table(
        {"time": zeros.cast(pa.timestamp("us", "UTC")), "press_id": one_word(rows, "P07"), "counter": zeros}
    )
    path = tmp_path / "strokes.parquet"
    with pq.ParquetWriter(path, same.schema, compression="zstd") as writer:
        for _ in range(5):
            writer.write_table(same)
    with pytest.raises(RefusedFile, match=r"5,000,000 rows in .* bytes; expected .* at most"):
        take_file(path)


def test_texts_that_are_no_text_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "causes.parquet"
    pq.write_table(pa.table({"cause": ["BUR", "SLG"]}), path, compression="none", use_dictionary=False)
    path.write_bytes(path.read_bytes().replace(b"SLG", b"S\xffG"))
    with pytest.raises(RefusedFile, match="cannot be read"):
        take_file(path)


@pytest.mark.parametrize("kind", [pa.list_(pa.string()), pa.struct([("a", pa.int64())]), pa.binary(), pa.binary(4)])
def test_types_that_hold_no_value_are_refused_before_they_are_read(tmp_path: Path, kind: pa.DataType) -> None:
    with pytest.raises(RefusedFile, match="column cause: type"):
        take_table(tmp_path, "causes.parquet", pa.table({"cause": pa.nulls(3, kind)}))


@pytest.mark.parametrize("compression", ["none", "snappy", "zstd"])
@pytest.mark.parametrize("field", [2, 3])
def test_a_page_that_claims_two_gigabytes_is_refused_without_making_room_for_it(
    tmp_path: Path, compression: str, field: int
) -> None:
    path = tmp_path / "causes.parquet"
    pq.write_table(pa.table({"cause": ["BUR", "SLG"] * 40}), path, compression=compression, use_dictionary=False)
    chunk = pq.read_metadata(path).row_group(0).column(0)
    data = path.read_bytes()
    # The page's header: a mark, its type, a mark, its size unfolded, a mark, its size as it lies there.
    start = chunk.data_page_offset + 2
    for _ in range(2, field):
        start = _number_ends(data, start + 1)
    end = _number_ends(data, start + 1)
    claims = b"\xfe\xff\xff\xff\x0f"
    after = chunk.data_page_offset + chunk.total_compressed_size
    # The footer has to go on to say where the page, which has grown by this, ends.
    grown = chunk.total_compressed_size + len(claims) - (end - start - 1)
    footer = data[after:].replace(_number(chunk.total_compressed_size), _number(grown))
    path.write_bytes(data[: start + 1] + claims + data[end:after] + footer)
    with pytest.raises(RefusedFile, match=r"claims 2,147,483,647 unfolded|a page of 2,147,483,647 bytes"):
        take_file(path)
    assert pa.default_memory_pool().max_memory() < 1 << 30


def _number(value: int) -> bytes:
    """A whole number as Parquet writes it, of variable length."""
    value, written = value * 2, bytearray()
    while value > 0x7F:
        written.append(value & 0x7F | 0x80)
        value >>= 7
    return bytes([*written, value])


def _number_ends(data: bytes, start: int) -> int:
    """Where a number of variable length ends."""
    while data[start] & 0x80:
        start += 1
    return start + 1
