"""Plant weeks: where they begin, what they are called, over years and clock changes."""

from __future__ import annotations

import datetime as dt

import pytest

from monitor.figures.customer.weeks import days_of, week_of, weeks_until
from shared.errors import RequestError
from shared.plant import WEEKDAYS


@pytest.mark.parametrize(
    ("date", "start", "week"),
    [
        ("2026-11-02", "mon", "2026-W45"),
        ("2026-11-01", "mon", "2026-W44"),
        ("2026-11-01", "sun", "2026-W45"),
        ("2026-10-31", "sat", "2026-W45"),
        ("2026-12-31", "mon", "2026-W53"),
        ("2027-01-03", "mon", "2026-W53"),
        ("2027-01-03", "sun", "2027-W01"),
        ("2027-01-04", "mon", "2027-W01"),
        ("2024-12-30", "mon", "2025-W01"),
    ],
)
def test_a_day_belongs_to_the_week_of_its_thursday(date: str, start: str, week: str) -> None:
    assert week_of(dt.date.fromisoformat(date), start) == week


@pytest.mark.parametrize("start", WEEKDAYS)
def test_every_day_lies_in_exactly_the_week_it_is_named_after(start: str) -> None:
    day = dt.date(2026, 12, 20)
    for _ in range(30):
        first, after = days_of(week_of(day, start), start)
        assert first <= day < after
        assert (after - first).days == 7
        assert WEEKDAYS[first.weekday()] == start
        day += dt.timedelta(days=1)


@pytest.mark.parametrize("week", ["2025-W53", "2026-W54", "2026-W00", "2026-45", "W45", "", "0000-W01"])
def test_a_week_that_does_not_exist_is_refused(week: str) -> None:
    with pytest.raises(RequestError, match="2026-W45"):
        days_of(week, "mon")


def test_weeks_of_a_trend_follow_one_another_over_the_year_end() -> None:
    assert weeks_until("2027-W02", 4, "mon") == ["2026-W52", "2026-W53", "2027-W01", "2027-W02"]
    assert weeks_until("0001-W02", 13, "mon") == ["0001-W01", "0001-W02"]
    assert weeks_until("0001-W01", 13, "mon") == ["0001-W01"]
