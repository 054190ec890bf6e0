"""Heads of pages: those of sound files pass, whoever wrote them and however; damaged ones are refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from monitor.intake.parquet.footer import read_footer
from monitor.intake.parquet.pages import check_pages
from shared.errors import RefusedFile

ROWS = pa.table(
    {
        "time": pa.array(np.arange(5000) * 1_000_000).cast(pa.timestamp("us", "UTC")),
        "press_id": pa.array(["P07", None, "a" * 9000, "P08", "b"] * 1000),
        "counter": pa.array([1, None, 3, 4, 5] * 1000),
    }
)


@pytest.mark.parametrize("compression", ["none", "snappy", "zstd", "gzip", "lz4", "brotli"])
@pytest.mark.parametrize("version", ["1.0", "2.0"])
@pytest.mark.parametrize("dictionary", [True, False])
def test_pages_of_a_sound_file_pass(tmp_path: Path, compression: str, version: str, dictionary: bool) -> None:
    path = tmp_path / "strokes.parquet"
    pq.write_table(
        ROWS, path, compression=compression, data_page_version=version, use_dictionary=dictionary,
        data_page_size=2000, row_group_size=1500, write_page_checksum=True,
    )  # fmt: skip
    check_pages(path, read_footer(path), ROWS.column_names)


@pytest.mark.parametrize("damage", [b"\xff" * 12, b"\x15" + b"\xff" * 11, b"\x1c" * 64, b"\x19\xf5" + b"\xff" * 30])
def test_head_that_is_none_is_refused(tmp_path: Path, damage: bytes) -> None:
    path = tmp_path / "strokes.parquet"
    pq.write_table(ROWS, path, use_dictionary=False)
    footer = read_footer(path)
    at = footer.groups[0][1][2].begins
    data = path.read_bytes()
    path.write_bytes(data[:at] + damage + data[at + len(damage) :])
    check_pages(path, footer, ["time", "press_id"])
    with pytest.raises(RefusedFile, match="row group 1, column counter"):
        check_pages(path, footer, ["counter"])
