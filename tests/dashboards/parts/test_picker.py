import datetime as dt

import pandas as pd
import pytest

from dashboards.pages.die import DIE_DATES, DIE_RANGES, DIE_URL
from dashboards.parts.picker import RangePicker, bounds, choices, last_days, within
from dashboards.request.url import View
from shared.calendar import Calendar
from shared.plant import Plant

TEXT = """
name = "Three shifts"
timezone = "Europe/Berlin"
week_start = "sun"
[[shift]]
name = "early"
start = "06:00"
end = "14:00"
[[shift]]
name = "late"
start = "14:00"
end = "22:00"
[[closed]]
date = "2026-11-06"
"""
NEWEST = dt.datetime(2026, 11, 11, 9, 0, tzinfo=dt.UTC)
NEWEST_US = int(NEWEST.timestamp()) * 1_000_000


@pytest.fixture(scope="module")
def calendar():
    return Calendar(Plant.from_toml(TEXT, "plant.toml"))


def day(number):
    return dt.date(2026, 11, number)


def found(calendar, view):
    return {choice.word: choice for choice in choices(calendar, NEWEST_US, view)}


def test_a_week_is_the_plants_own_and_keeps_the_die(calendar):
    week = found(calendar, View(die="D1", since=day(10), until=day(10)))["Week"].view
    assert week == View(die="D1", since=day(8), until=day(14))


def test_the_range_shown_is_marked(calendar):
    marked = [
        [choice.word for choice in choices(calendar, NEWEST_US, view) if choice.here]
        for view in (
            View(since=day(9), until=day(9), shift="late"),
            View(since=day(9), until=day(9)),
            View(since=day(8), until=day(14)),
            View(since=day(7), until=day(9)),
        )
    ]
    assert marked == [["Shift"], ["Day"], ["Week"], []]


def test_any_range_moves_by_its_own_length(calendar):
    ranges = found(calendar, View(since=day(4), until=day(6)))
    assert ranges["← earlier"].view == View(since=day(1), until=day(3))
    assert ranges["later →"].view == View(since=day(7), until=day(9))


def test_nothing_is_later_than_the_newest_reading(calendar):
    assert "later →" in found(calendar, View(since=day(10), until=day(10)))
    assert "later →" not in found(calendar, View(since=day(11), until=day(11)))
    assert found(calendar, View(since=day(11), until=day(11)))["Shift"].view.shift == "early"


def test_a_shift_moves_to_the_next_one_that_is_worked(calendar):
    late = View(since=day(5), until=day(5), shift="late")
    assert found(calendar, late)["later →"].view == View(since=day(7), until=day(7), shift="early")
    assert found(calendar, late)["← earlier"].view == View(since=day(5), until=day(5), shift="early")


@pytest.mark.parametrize("view", [View(), View(since=day(4)), View(since=day(6), until=day(4), shift="night")])
def test_a_range_that_is_none_offers_no_neighbours(calendar, view):
    assert not {"← earlier", "later →"} & set(found(calendar, view))


def test_links_keep_to_the_page_and_a_plant_without_shifts_has_none(service, empty_service):
    picker = RangePicker("/die", DIE_URL, DIE_DATES, DIE_RANGES, lambda reading, view: last_days(reading, view, 7))
    links = links_of(picker.shows(service.read(), View(die="D102")))
    assert links
    assert all(link.href.startswith("/die?") and "die=D102" in link.href for link in links)
    assert links_of(picker.shows(empty_service.read(), View())) == []


def links_of(shown):
    return shown.children[-1].children.children


def test_a_page_that_shows_all_there_is_offers_the_newest_ranges_and_the_way_back(calendar):
    first = {choice.word: choice for choice in choices(calendar, NEWEST_US, View(value="B1"), whole=True)}
    assert list(first) == ["Shift", "Day", "Week", "All"]
    assert first["All"].here
    assert first["Day"].view == View(value="B1", since=day(11), until=day(11))
    narrow = {choice.word: choice for choice in choices(calendar, NEWEST_US, first["Day"].view, whole=True)}
    assert narrow["All"].view == View(value="B1")
    assert not narrow["All"].here
    assert choices(calendar, 0, View(), whole=True)[-1].word == "All"
    half = choices(calendar, NEWEST_US, View(since=day(4)), whole=True)[-1]
    assert (half.word, half.here, half.view) == ("All", False, View())


def test_the_shift_offered_is_the_last_that_was_worked(calendar):
    closed = View(since=day(6), until=day(6))
    assert found(calendar, closed)["Shift"].view == View(since=day(5), until=day(5), shift="late")


def us(iso):
    return int(dt.datetime.fromisoformat(iso).timestamp()) * 1_000_000


def test_a_range_asks_for_whole_days_or_one_shift(calendar):
    assert bounds(calendar, View(since=day(4), until=day(6))) == ("2026-11-04", "2026-11-07")
    late = View(since=day(4), until=day(4), shift="late")
    assert bounds(calendar, late) == (us("2026-11-04T14:00:00+01:00"), us("2026-11-04T22:00:00+01:00"))
    assert bounds(calendar, View()) == ("", "")


def test_rows_are_within_a_range_from_its_first_moment_to_before_its_last(calendar):
    edges = ("04T05:59:59", "04T06:00:00", "05T05:59:59", "05T06:00:00")
    rows = pd.DataFrame({"at": [us(f"2026-11-{edge}+01:00") for edge in edges]})
    assert within(rows, "at", calendar, View(since=day(4), until=day(4))).index.tolist() == [1, 2]
    assert within(rows, "at", calendar, View(since=day(5))).index.tolist() == [3]
    assert len(within(rows, "at", calendar, View())) == 4
