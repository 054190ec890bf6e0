"""Readings as arrays: cut by press and plant day whatever order they come in."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pyarrow as pa
import pytest

from monitor.ledger.bulk.readings import MISSING, StoredReadings, by_press_day
from tests.ledger.given import CALENDAR, DAY, SECOND_US, START_US, strokes

HOUR = 3_600


def cut(rows: pa.Table) -> list[tuple[str, dt.date, list[int]]]:
    return [(day.press_id, day.day, day.readings.counter.tolist()) for day in by_press_day(rows, 1, CALENDAR)]


def test_presses_and_days_come_in_order() -> None:
    rows = pa.concat_tables([strokes((25 * HOUR, 3), (1, 1), (2, 2), press_id="P9"), strokes((1, 7), press_id="P10")])
    assert cut(rows) == [("P10", DAY, [7]), ("P9", DAY, [1, 2]), ("P9", DAY + dt.timedelta(days=1), [3])]


@pytest.mark.parametrize("kind", [pa.string(), pa.large_string(), pa.dictionary(pa.int32(), pa.string())])
def test_press_may_come_in_any_kind_of_text(kind: pa.DataType) -> None:
    rows = strokes((1, 1), (2, 2), press_id="Ü 1")
    rows = rows.set_column(rows.column_names.index("press_id"), "press_id", rows.column("press_id").cast(kind))
    assert cut(rows) == [("Ü 1", DAY, [1, 2])]


def test_dictionaries_that_differ_by_chunk_are_joined() -> None:
    coded = [strokes((n, n), press_id=name) for n, name in enumerate(["B", "A", "B"])]
    rows = pa.concat_tables(coded)
    chunks = [some.column("press_id").dictionary_encode().chunk(0) for some in coded]
    rows = rows.set_column(rows.column_names.index("press_id"), "press_id", pa.chunked_array(chunks))
    assert cut(rows) == [("A", DAY, [1]), ("B", DAY, [0, 2])]


@pytest.mark.parametrize("presses", [3, 300])
def test_any_number_of_presses_in_any_order_is_sorted(presses: int) -> None:
    order = np.random.default_rng(5).permutation(presses * 4)
    names = pa.array([f"P{n % presses:03d}" for n in order])
    rows = pa.table({"press_id": names, "time": START_US + order, "counter": order, "line": order})
    rows = rows.set_column(1, "time", rows.column("time").cast(pa.timestamp("us", "UTC")))
    found = cut(rows)
    assert [press_id for press_id, _, _ in found] == sorted({f"P{n:03d}" for n in range(presses)})
    assert all(counters == sorted(counters) and len(counters) == 4 for _, _, counters in found)


def test_night_of_nine_hours_belongs_to_one_plant_day() -> None:
    # The clocks of Berlin go back on 2026-10-25; source: IANA time zone database.
    start = (CALENDAR.day_start_us(dt.date(2026, 10, 24)) - START_US) // SECOND_US
    rows = strokes((start, 1), (start + 25 * HOUR - 1, 2), (start + 25 * HOUR, 3))
    assert cut(rows) == [("P01", dt.date(2026, 10, 24), [1, 2]), ("P01", dt.date(2026, 10, 25), [3])]


def test_no_rows_give_no_days() -> None:
    assert cut(strokes((1, 1)).slice(0, 0)) == []
    assert cut(strokes((1, 1)).schema.empty_table()) == []


def test_arrow_keeps_what_is_missing() -> None:
    readings = StoredReadings.of(strokes((0, 1), (1, 2)), 4)
    assert readings.feeds.tolist() == [MISSING, MISSING]
    half = readings._replace(feeds=np.array([MISSING, 9]))
    batch = pa.Table.from_batches([half.batch("P01")])
    assert batch["feeds"].to_pylist() == [None, 9]
    assert batch["recorded_at"].null_count == 2
    assert StoredReadings.of(batch).feeds.tolist() == [MISSING, 9]
    assert StoredReadings.of(batch).load_id.tolist() == [4, 4]
