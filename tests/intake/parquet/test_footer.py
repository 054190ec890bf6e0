"""The footer as pyarrow reads it, and footers damaged bit by bit: refused with a reason, and the process lives on."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from monitor.intake.parquet.compact import Short, Struct
from monitor.intake.parquet.footer import read_footer
from monitor.intake.parquet.rows import parquet_rows
from shared.errors import RefusedFile
from shared.tables import TABLES

ROWS = pa.table(
    {
        "time": pa.array(np.arange(900) * 1_000_000).cast(pa.timestamp("us", "UTC")),
        "press_id": pa.array(["P07", None, "P08"] * 300),
        "counter": pa.array([1, None, 3] * 300),
    }
)


@pytest.mark.parametrize("dictionary", [True, False])
def test_says_what_pyarrow_says(tmp_path: Path, dictionary: bool) -> None:
    path = tmp_path / "strokes.parquet"
    pq.write_table(ROWS, path, row_group_size=400, use_dictionary=dictionary)
    footer, told = read_footer(path), pq.read_metadata(path)
    assert (footer.rows, footer.columns) == (told.num_rows, told.num_columns)
    assert [rows for rows, _ in footer.groups] == [400, 400, 100]
    for number, (_, chunks) in enumerate(footer.groups):
        for place, chunk in enumerate(chunks):
            same = told.row_group(number).column(place)
            assert (chunk.name, chunk.values) == (same.path_in_schema, same.num_values)
            assert (chunk.stored, chunk.claimed) == (same.total_compressed_size, same.total_uncompressed_size)
            starts = [same.data_page_offset, *([same.dictionary_page_offset] if same.has_dictionary_page else [])]
            assert chunk.begins == min(starts)


def test_a_footer_damaged_in_any_byte_is_read_or_refused(tmp_path: Path) -> None:
    path = tmp_path / "strokes-1.parquet"
    pq.write_table(ROWS, path)
    data = path.read_bytes()
    length = int.from_bytes(data[-8:-4], "little")
    reasons = []
    for place in range(len(data) - 8 - length, len(data)):
        for bit in (1, 16, 128):
            path.write_bytes(data[:place] + bytes([data[place] ^ bit]) + data[place + 1 :])
            try:
                assert sum(raw.cells.num_rows for raw in parquet_rows(path, TABLES["strokes"])) <= ROWS.num_rows
            except RefusedFile as error:
                reasons.append(error.seen)
    assert len(reasons) > length
    assert all(reasons)


@pytest.mark.parametrize("data", [b"", b"\x15", b"\x18\xff\xff\x03ab", b"\x19\xf1\xff\xff\xff\xff\x0f\x01"])
def test_a_struct_that_ends_too_soon_says_so(data: bytes) -> None:
    with pytest.raises(Short):
        Struct(data)


@pytest.mark.parametrize("data", [b"\x1d", b"\x16" + b"\xff" * 11, b"\x1c" * 64, b"\x19\x19" + b"\x19" * 64])
def test_what_is_no_struct_is_told_apart(data: bytes) -> None:
    with pytest.raises(ValueError):
        Struct(data)
