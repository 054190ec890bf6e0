"""Ranges and filters as a person writes them."""

from __future__ import annotations

import datetime as dt

import pytest

from monitor.figures.scope import scope
from shared.calendar import Calendar
from shared.errors import RequestError
from shared.plant import Plant
from tests.figures.given import SECOND, facts

PLANT = """
timezone = "Europe/Berlin"
[[shift]]
name = "early"
start = "06:00"
end = "14:00"
[[shift]]
name = "night"
start = "22:00"
end = "06:00"
"""
CALENDAR = Calendar(Plant.from_toml(PLANT))
# 06:00 in Berlin in November is 05:00 UTC.
DAY_START = int(dt.datetime(2026, 11, 2, 5, tzinfo=dt.UTC).timestamp()) * SECOND


def test_bare_date_is_the_start_of_its_plant_day() -> None:
    asked = scope(CALENDAR, "2026-11-02", "2026-11-03")
    assert asked.from_us == DAY_START
    assert asked.by_date
    assert (asked.from_date, asked.to_date) == (dt.date(2026, 11, 2), dt.date(2026, 11, 3))


@pytest.mark.parametrize("text", ["2026-11-02T06:00", "2026-11-02T06:00:00+01:00", "2026-11-02T05:00Z"])
def test_moment_without_offset_is_plant_time_and_the_start_of_a_day_is_that_day(text: str) -> None:
    asked = scope(CALENDAR, text, None)
    assert (asked.from_us, asked.from_date) == (DAY_START, dt.date(2026, 11, 2))


def test_range_of_days_keeps_a_night_shift_whole() -> None:
    rows = facts("time", {"shift_date": "2026-11-02", "shift": "night"}, {"shift_date": "2026-11-03"})
    assert scope(CALENDAR, "2026-11-02", "2026-11-03").keep(rows)["shift"].tolist() == ["night"]


def test_range_of_moments_keeps_the_hours_that_begin_in_it() -> None:
    rows = facts("time", *({"hour_us": DAY_START + hour * 3600 * SECOND} for hour in range(4)))
    asked = scope(CALENDAR, "2026-11-02T07:00", "2026-11-02T09:00")
    assert not asked.by_date
    assert (asked.keep(rows)["hour_us"] - DAY_START).tolist() == [3600 * SECOND, 7200 * SECOND]


def test_filters_narrow_by_what_facts_have() -> None:
    rows = facts("stops", {"press_id": "P1", "die_id": "D1"}, {"press_id": "P2", "die_id": "D1"})
    assert len(scope(CALENDAR, None, None, press="P2", die="D1", part="N1").keep(rows)) == 1
    assert scope(CALENDAR, None, None, press="P3").keep(rows).empty


def test_nothing_asked_keeps_everything() -> None:
    asked = scope(CALENDAR, None, "")
    assert asked.by_date
    assert len(asked.keep(facts("time", {}, {}))) == 2
    assert asked.dates(CALENDAR) == (None, None)


def test_dates_that_facts_of_a_range_of_moments_can_have() -> None:
    asked = scope(CALENDAR, "2026-11-02T23:00", "2026-11-03T02:00")
    assert asked.dates(CALENDAR) == (dt.date(2026, 11, 2), dt.date(2026, 11, 3))


@pytest.mark.parametrize(("from_", "to"), [("2026-11-03", "2026-11-02"), ("2026-11-02", "2026-11-02")])
def test_range_that_ends_before_it_begins_is_refused(from_: str, to: str) -> None:
    with pytest.raises(RequestError, match="an end after the beginning"):
        scope(CALENDAR, from_, to)


@pytest.mark.parametrize("text", ["yesterday", "2026-13-01", "2026-11-02T25:00", "02.11.2026", "noon"])
def test_time_that_is_none_is_refused_with_what_to_write(text: str) -> None:
    with pytest.raises(RequestError, match="write 2026-11-02 for a plant day"):
        scope(CALENDAR, text, None)


@pytest.mark.parametrize("text", ["20261102", "2026-W45-1"])
def test_every_way_to_write_a_date_is_a_plant_day(text: str) -> None:
    assert scope(CALENDAR, text, None).from_us == DAY_START


def test_first_and_last_date_there_are_leave_the_range_open() -> None:
    asked = scope(CALENDAR, "0001-01-01", "9999-12-31")
    assert len(asked.keep(facts("time", {}))) == 1


@pytest.mark.parametrize("text", ["0001-01-01T00:00", "9999-12-31T23:59+00:00"])
def test_time_that_no_calendar_reaches_is_refused_like_one_that_is_none(text: str) -> None:
    with pytest.raises(RequestError, match="write 2026-11-02 for a plant day"):
        scope(CALENDAR, text, None)
