import datetime as dt

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.intake.times import parse_times
from monitor.intake.values import WrongType

EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


def parsed(texts: list[str | None], zone: str = "Europe/Berlin", dates: bool = False) -> list[str | None]:
    column = parse_times(pa.array(texts, pa.string()), zone, dates).column()
    return [None if value is None else value.isoformat() for value in column.to_pylist()]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2026-11-02T06:00:00", "2026-11-02T05:00:00+00:00"),
        ("2026-07-02 06:00", "2026-07-02T04:00:00+00:00"),
        ("2026-11-02T06:00:00Z", "2026-11-02T06:00:00+00:00"),
        ("2026-11-02T06:00:00+02:00", "2026-11-02T04:00:00+00:00"),
        ("2026-11-02 06:00:00-0530", "2026-11-02T11:30:00+00:00"),
        ("2026-11-02T06:00:00.25", "2026-11-02T05:00:00.250000+00:00"),
        ("2026-11-02T06:00:00.123456789Z", "2026-11-02T06:00:00.123456+00:00"),
        ("2026-11-02T06:00:00,5Z", "2026-11-02T06:00:00.500000+00:00"),
        ("2026-11-02T24:00", "2026-11-02T23:00:00+00:00"),
        ("  2026-11-02T06:00Z ", "2026-11-02T06:00:00+00:00"),
        ("2028-02-29T12:00Z", "2028-02-29T12:00:00+00:00"),
    ],
)
def test_iso_times(text: str, expected: str) -> None:
    assert parsed([text]) == [expected]
    # The same in a column that has to be taken cell by cell.
    assert parsed([text, "x", None]) == [expected, None, None]


@pytest.mark.parametrize(
    "text",
    [
        "02.11.2026 06:00", "11/02/26", "46328.25", "2026-11-02", "2026-11-02T06", "2026-11-02T25:00",
        "2026-02-29T06:00", "2026-11-31T06:00", "2026-13-01T06:00", "2026-11-02T06:60", "2026-11-02T24:01",
        "1026-11-02T06:00", "2126-11-02T06:00", "2026-11-02T06:00+25:00", "06:00", "x", "=NOW()", "٢٠٢٦-11-02T06:00",
    ],
)  # fmt: skip
def test_what_is_no_time_is_bad(text: str) -> None:
    for column in ([text], [text, "2026-11-02T06:00:00"]):
        times = parse_times(pa.array(column), "Europe/Berlin", dates=False)
        assert times.bad[0]
        assert not times.bad[1:].any()


def test_a_bare_date_is_its_midnight_only_where_dates_will_do() -> None:
    assert parsed(["2026-11-02"], dates=True) == ["2026-11-01T23:00:00+00:00"]
    assert parsed(["2026-11-02"], dates=False) == [None]


def test_columns_that_mix_times_with_and_without_offset() -> None:
    texts = ["2026-11-02T06:00:00", "2026-11-02T06:00:00Z", None, "2026-10-25T02:30", "2026-03-29T02:30"]
    times = parse_times(pa.array(texts), "Europe/Berlin", dates=False)
    assert times.plant.tolist() == [True, False, False, True, True]
    assert times.twice.tolist() == [False, False, False, True, False]
    assert times.never.tolist() == [False, False, False, False, True]
    assert times.missing.tolist() == [False, False, True, False, False]
    assert times.column().to_pylist()[0] == dt.datetime(2026, 11, 2, 5, tzinfo=dt.UTC)


@pytest.mark.parametrize("unit", ["s", "ms", "us", "ns"])
def test_timestamps_of_any_unit(unit: str) -> None:
    stamps = pa.array([1793600000, None]).cast(pa.timestamp("s"))
    aware = parse_times(stamps.cast(pa.timestamp(unit, "America/Chicago")), "Europe/Berlin", dates=False)
    assert aware.us[0] == 1793600000_000_000
    assert aware.missing.tolist() == [False, True]
    naive = parse_times(stamps.cast(pa.timestamp(unit)), "Europe/Berlin", dates=False)
    assert naive.us[0] == (1793600000 - 3600) * 1_000_000


def test_types_that_hold_no_time_are_wrong() -> None:
    for column in (pa.array([1.5]), pa.array([1]), pa.array([True]), pa.array([dt.date(2026, 11, 2)])):
        with pytest.raises(WrongType):
            parse_times(column, "UTC", dates=False)
    assert parse_times(pa.array([dt.date(2026, 11, 2)]), "UTC", dates=True).us.tolist() == [1793577600_000_000]


MOMENTS = st.datetimes(dt.datetime(1990, 1, 2), dt.datetime(2099, 1, 1), timezones=st.just(dt.UTC))


@settings(max_examples=200, deadline=None)
@given(st.lists(st.one_of(MOMENTS, st.sampled_from(["", "x", "2026-11-02"])), min_size=1, max_size=6))
def test_each_cell_is_taken_the_same_alone_and_among_others(cells: list[dt.datetime | str]) -> None:
    texts = [cell if isinstance(cell, str) else cell.isoformat() for cell in cells]
    together = parse_times(pa.array(texts), "UTC", dates=False)
    for place, (cell, text) in enumerate(zip(cells, texts, strict=True)):
        alone = parse_times(pa.array([text]), "UTC", dates=False)
        assert (together.us[place], together.bad[place]) == (alone.us[0], alone.bad[0])
        if isinstance(cell, dt.datetime):
            assert together.us[place] == (cell - EPOCH) // dt.timedelta(microseconds=1)
    assert together.us.dtype == np.int64
