import datetime as dt
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from monitor.intake.parquet import rows as module
from shared.arrow import arrow_schema
from shared.errors import RefusedFile
from shared.tables import TABLES
from tests.intake.taking import take, take_file, take_table, utc

MOMENT = dt.datetime(2026, 11, 2, 6, tzinfo=dt.UTC)


def strokes(**columns: pa.Array) -> pa.Table:
    given = {
        "time": pa.array([MOMENT] * 3, pa.timestamp("us", "UTC")),
        "press_id": pa.array(["P07", "P08", "P07"]),
        "counter": pa.array([1, 2, 3]),
    }
    return pa.table(given | columns)


def test_clean_rows_come_in_contract_types_with_their_row_number(tmp_path: Path) -> None:
    taken = take_table(tmp_path, "strokes.parquet", strokes(operator=pa.array(["a", "b", "c"])))
    assert taken.lines == [1, 2, 3]
    assert taken.rejected == []
    assert taken.schema == arrow_schema(TABLES["strokes"], ("time", "press_id", "counter")).append(
        pa.field("line", pa.int64())
    )
    assert taken.notes == ["column 'operator' is not part of strokes and is left out"]


def test_rows_at_fault_are_set_aside_with_the_row_as_it_came(tmp_path: Path) -> None:
    table = strokes(press_id=pa.array(["P07", None, "P99"]), counter=pa.array([-5, 2, 3]))
    taken = take_table(tmp_path, "strokes.parquet", table)
    assert taken.rows == []
    assert [one.waits_for for one in taken.rejected] == [(), (), (("presses", "P99"),)]
    assert taken.rejected[0].row == '{"time": "2026-11-02 06:00:00+00:00", "press_id": "P07", "counter": "-5"}'
    assert "counter is '-5', expected a whole number not below 0" in taken.reasons[1]
    assert "press_id is empty" in taken.reasons[2]


def test_naive_times_are_plant_time_and_settled(tmp_path: Path) -> None:
    walls = pa.array([dt.datetime(2026, 7, 1, 6), dt.datetime(2026, 10, 25, 2, 30), dt.datetime(2026, 10, 25, 2, 10)])
    taken = take_table(tmp_path, "strokes.parquet", strokes(time=walls, press_id=pa.array(["P07"] * 3)))
    assert taken.column("time") == [utc("2026-07-01T04:00"), utc("2026-10-25T00:30"), utc("2026-10-25T01:10")]


def test_types_other_writers_use(tmp_path: Path) -> None:
    table = strokes(
        time=pa.array(["2026-11-02T06:00Z"] * 3, pa.large_string()),
        press_id=pa.array(["P07", "P08", "P07"]).dictionary_encode(),
        counter=pa.array([1.0, float("nan"), 3.0]),
        feeds=pa.array(["1", None, ""]),
    )
    taken = take_table(tmp_path, "strokes.parquet", table)
    assert taken.column("counter") == [1, 3]
    assert taken.column("feeds") == [1, None]
    assert "counter is empty" in taken.reasons[2]


@pytest.mark.parametrize(
    ("name", "column"),
    [
        ("counter", pa.array([True, False, True])),
        ("press_id", pa.array([1.5, 2.5, 3.5])),
        ("time", pa.array([1, 2, 3])),
    ],
)
def test_a_column_of_a_wrong_type_refuses_the_file(tmp_path: Path, name: str, column: pa.Array) -> None:
    with pytest.raises(RefusedFile, match=f"strokes.parquet, column {name}: type"):
        take_table(tmp_path, "strokes.parquet", strokes(**{name: column}))


def test_a_file_without_a_required_column_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RefusedFile, match="counter"):
        take_table(tmp_path, "strokes.parquet", strokes().drop_columns(["counter"]))


@pytest.mark.parametrize("keep", [0, 3, 100, 400, -1, -9])
def test_a_file_cut_short_is_refused(tmp_path: Path, keep: int) -> None:
    pq.write_table(strokes(), tmp_path / "whole.parquet")
    data = (tmp_path / "whole.parquet").read_bytes()
    with pytest.raises(RefusedFile, match="whole Parquet file"):
        take(tmp_path, "strokes.parquet", data[:keep])


def test_a_damaged_page_is_refused_not_read(tmp_path: Path) -> None:
    table = pa.table({name: column.take(pa.array([0, 1, 2] * 3000)) for name, column in strokes_by_name().items()})
    path = tmp_path / "strokes.parquet"
    pq.write_table(table.set_column(2, "counter", [pa.array(range(9000))]), path, write_page_checksum=True)
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 0xFF
    path.write_bytes(data)
    with pytest.raises(RefusedFile):
        take_file(path)


def strokes_by_name() -> dict[str, pa.ChunkedArray]:
    table = strokes()
    return dict(zip(table.column_names, table.columns, strict=True))


def test_a_column_that_is_empty_throughout_has_no_type_and_is_taken(tmp_path: Path) -> None:
    taken = take_table(tmp_path, "strokes.parquet", strokes(feeds=pa.nulls(3), recorded_at=pa.nulls(3)))
    assert taken.column("feeds") == [None] * 3
    assert taken.schema.field("feeds").type == pa.int64()
    assert taken.schema.field("recorded_at").type == pa.timestamp("us", "UTC")
    assert "counter is empty" in take_table(tmp_path, "strokes.parquet", strokes(counter=pa.nulls(3))).reasons[1]


def test_rows_are_numbered_through_all_batches(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "BATCH_ROWS", 2)
    taken = take_table(tmp_path, "strokes.parquet", strokes())
    assert taken.batches == 2
    assert taken.lines == [1, 2, 3]


def test_an_empty_file_gives_no_rows(tmp_path: Path) -> None:
    taken = take_table(tmp_path, "strokes.parquet", strokes().slice(0, 0))
    assert (taken.rows, taken.rejected, taken.batches) == ([], [], 1)
