"""Shift windows, plant days and clock hours, on plain days and over clock changes."""

from __future__ import annotations

import datetime as dt
import itertools
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.calendar import Calendar
from shared.plant import Plant

HOUR_US = 3_600_000_000

THREE_SHIFTS = """
timezone = "{zone}"
[[shift]]
name = "early"
start = "06:00"
end = "14:00"
[[shift]]
name = "late"
start = "14:00"
end = "22:00"
[[shift]]
name = "night"
start = "22:00"
end = "06:00"
{more}
"""


def calendar(zone: str = "Europe/Berlin", more: str = "") -> Calendar:
    return Calendar(Plant.from_toml(THREE_SHIFTS.format(zone=zone, more=more)))


def us(text: str) -> int:
    return int((dt.datetime.fromisoformat(text) - dt.datetime(1970, 1, 1, tzinfo=dt.UTC)).total_seconds()) * 1_000_000


def test_wall_time_that_happens_twice_is_the_first() -> None:
    # 01:30 on 2026-11-01 in Chicago is 06:30 UTC, then 07:30 UTC
    wall = calendar("America/Chicago").wall_us(dt.date(2026, 11, 1), 90)
    assert wall == us("2026-11-01T06:30+00:00")


def test_wall_time_that_never_was_moves_to_the_end_of_the_gap() -> None:
    # 02:30 on 2026-03-08 in Chicago does not exist; the gap ends at 03:00 = 08:00 UTC
    wall = calendar("America/Chicago").wall_us(dt.date(2026, 3, 8), 150)
    assert wall == us("2026-03-08T08:00+00:00")


@pytest.mark.parametrize("zone", ["Europe/Berlin", "America/Chicago", "Australia/Lord_Howe", "Asia/Kolkata"])
def test_three_shifts_cover_a_year_without_hole_or_overlap(zone: str) -> None:
    plant_time = calendar(zone)
    windows = plant_time.shifts("P01", us("2026-01-01T00:00+00:00"), us("2027-01-01T00:00+00:00"))
    assert all(a.end_us == b.start_us for a, b in itertools.pairwise(windows))
    assert len(windows) in (1095, 1096, 1097)


def test_break_after_midnight_belongs_to_the_night_shift() -> None:
    plant_time = calendar(more='[[break]]\nshift = "night"\nstart = "02:00"\nend = "02:30"')
    night = plant_time.shifts("P01", us("2026-11-03T00:00+01:00"), us("2026-11-03T00:01+01:00"))[0]
    assert night.shift_date == dt.date(2026, 11, 2)
    assert night.breaks == ((us("2026-11-03T02:00+01:00"), us("2026-11-03T02:30+01:00")),)


def test_break_over_a_clock_change_has_its_real_length_or_is_gone() -> None:
    plant_time = calendar(more='[[break]]\nshift = "night"\nstart = "02:00"\nend = "02:30"')
    spring = plant_time.shifts("P01", us("2026-03-29T00:00+01:00"), us("2026-03-29T00:01+01:00"))[0]
    autumn = plant_time.shifts("P01", us("2026-10-25T00:00+02:00"), us("2026-10-25T00:01+02:00"))[0]
    assert spring.breaks == ()
    assert autumn.breaks == ((us("2026-10-25T02:00+02:00"), us("2026-10-25T02:30+02:00")),)


def test_range_takes_every_shift_it_touches_and_no_other() -> None:
    plant_time = calendar()
    start, end = us("2026-11-02T06:00+01:00"), us("2026-11-02T14:00+01:00")
    assert [w.shift for w in plant_time.shifts("P01", start, end)] == ["early"]
    assert [w.shift for w in plant_time.shifts("P01", start - 1, end + 1)] == ["night", "early", "late"]
    assert plant_time.shifts("P01", start, start) == []


def test_closed_day_marks_the_shifts_that_start_on_it() -> None:
    plant_time = calendar(more="[[closed]]\ndate = 2026-12-25")
    windows = plant_time.shifts("P01", us("2026-12-24T23:00+01:00"), us("2026-12-26T07:00+01:00"))
    closed = [(w.shift_date.day, w.shift) for w in windows if w.closed]
    assert closed == [(25, "early"), (25, "late"), (25, "night")]
    assert [w.shift for w in windows if not w.closed] == ["night", "early"]


def test_later_valid_from_changes_the_shift_and_leaves_the_past() -> None:
    more = """
[[shift]]
name = "early"
start = "05:00"
end = "14:00"
valid_from = "2026-06-01"
[[shift]]
name = "night"
start = "22:00"
end = "05:00"
valid_from = 2026-06-01
"""
    plant_time = calendar(more=more)
    windows = plant_time.shifts("P01", us("2026-05-31T00:00+02:00"), us("2026-06-02T00:00+02:00"))
    early = [w for w in windows if w.shift == "early"]
    assert [w.start_us for w in early] == [us("2026-05-31T06:00+02:00"), us("2026-06-01T05:00+02:00")]
    # The night of 31 May was to last until 06:00; the new early shift ends it at 05:00.
    assert all(a.end_us <= b.start_us for a, b in itertools.pairwise(windows))
    assert plant_time.day_start_us(dt.date(2026, 5, 31)) == us("2026-05-31T06:00+02:00")
    assert plant_time.day_start_us(dt.date(2026, 6, 1)) == us("2026-06-01T05:00+02:00")


def test_shift_that_lists_presses_replaces_the_general_one_for_them() -> None:
    more = """
[[shift]]
name = "late"
start = "14:00"
end = "18:00"
presses = ["P07"]
[[shift]]
name = "night"
start = "22:00"
end = "06:00"
days = []
presses = ["P07"]
"""
    plant_time = calendar(more=more)
    day = (us("2026-11-02T06:00+01:00"), us("2026-11-03T06:00+01:00"))
    assert [w.shift for w in plant_time.shifts("P01", *day)] == ["early", "late", "night"]
    assert [(w.shift, w.end_us) for w in plant_time.shifts("P07", *day)] == [
        ("early", us("2026-11-02T14:00+01:00")),
        ("late", us("2026-11-02T18:00+01:00")),
    ]


def test_shift_starts_only_on_its_days() -> None:
    plant_time = Calendar(
        Plant.from_toml(
            'timezone = "Europe/Berlin"\n[[shift]]\nname = "day"\nstart = "07:00"\nend = "15:30"\ndays = ["mon", "fri"]'
        )
    )
    windows = plant_time.shifts("P01", us("2026-11-02T00:00+01:00"), us("2026-11-09T00:00+01:00"))
    assert [w.shift_date.isoformat() for w in windows] == ["2026-11-02", "2026-11-06"]


def test_plant_day_begins_with_the_earliest_shift() -> None:
    plant_time = calendar()
    assert plant_time.plant_day(us("2026-11-02T05:59:59+01:00")) == dt.date(2026, 11, 1)
    assert plant_time.plant_day(us("2026-11-02T06:00:00+01:00")) == dt.date(2026, 11, 2)


def test_plant_day_without_shifts_begins_at_midnight() -> None:
    plant_time = Calendar(Plant.from_toml('timezone = "America/Chicago"'))
    assert plant_time.day_start_us(dt.date(2026, 11, 2)) == us("2026-11-02T00:00-06:00")
    assert plant_time.shifts("P01", 0, HOUR_US) == []


@given(st.lists(st.integers(us("2025-01-01T00:00+00:00"), us("2028-01-01T00:00+00:00")), max_size=20))
def test_plant_days_of_many_instants_agree_with_each_one(times: list[int]) -> None:
    plant_time = calendar("America/Chicago")
    days = plant_time.plant_days(np.array(times, dtype=np.int64))
    assert days.dtype == np.dtype("datetime64[D]")
    assert days.tolist() == [plant_time.plant_day(time) for time in times]
    for time, day in zip(times, days.tolist(), strict=True):
        assert plant_time.day_start_us(day) <= time < plant_time.day_start_us(day + dt.timedelta(days=1))


@pytest.mark.parametrize(
    ("zone", "date", "count"),
    [
        ("Europe/Berlin", dt.date(2026, 3, 29), 23),
        ("Europe/Berlin", dt.date(2026, 10, 25), 25),
        ("Europe/Berlin", dt.date(2026, 11, 2), 24),
        ("Asia/Kolkata", dt.date(2026, 11, 2), 24),
        ("America/Santiago", dt.date(2026, 9, 6), 23),
    ],
)
def test_clock_hours_of_a_date(zone: str, date: dt.date, count: int) -> None:
    # source: IANA time zone database; Santiago has no midnight on 2026-09-06
    plant_time = calendar(zone)
    start, end = plant_time.wall_us(date, 0), plant_time.wall_us(date, 24 * 60)
    hours = plant_time.hour_starts(start, end)
    assert len(hours) == count
    assert hours[0] == start
    assert hours == sorted(set(hours))
    local = [dt.datetime.fromtimestamp(hour / 1e6, ZoneInfo(zone)) for hour in hours]
    assert all(moment.minute == 0 and moment.date() == date for moment in local)


def test_clock_hours_leave_out_the_end_of_the_range() -> None:
    start = us("2026-11-02T06:00+01:00")
    assert calendar().hour_starts(start, start + 2 * HOUR_US) == [start, start + HOUR_US]
    assert calendar().hour_starts(start + 1, start + HOUR_US) == []


def test_local_text_carries_the_offset_of_the_instant() -> None:
    times = [us("2026-10-25T00:30+00:00"), us("2026-10-25T01:30+00:00") + 250_000, None]
    assert calendar().local_iso(times) == [
        "2026-10-25T02:30:00+02:00",
        "2026-10-25T02:30:00.250000+01:00",
        "",
    ]
    assert calendar().local_iso(np.array(times[:1])) == ["2026-10-25T02:30:00+02:00"]
