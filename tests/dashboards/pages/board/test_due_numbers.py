from dataclasses import replace

import pytest

from dashboards.pages.board.due_numbers import order_number, sharpen_number
from monitor.plant.order_pace import OrderPace
from tests.invented.five_presses import CALENDAR, at

NOW = at("2026-11-02 19:42")
ORDER = OrderPace(
    "P01",
    "A-1",
    part_no="N",
    quantity=40_000,
    done=30_000,
    due_us=at("2026-11-04 14:00"),
    ends_us=at("2026-11-03 09:10"),
    ends_low_us=at("2026-11-03 06:40"),
    ends_high_us=at("2026-11-03 12:20"),
    pace=4_100.0,
    wanted=1_900.0,
)


def test_an_order_says_what_is_done_when_it_will_be_and_when_it_is_due():
    shown = order_number(ORDER, CALENDAR, NOW)
    assert (shown.value, shown.loud) == ("75\u202f%", False)
    assert shown.below == ("30\u202f000 of 40\u202f000", "done Tue 06:40 to 12:20", "due Wed 14:00")


def test_an_order_that_lacks_pieces_is_not_called_whole():
    assert order_number(replace(ORDER, done=39_990), CALENDAR, NOW).value == "99\u202f%"
    assert order_number(replace(ORDER, done=40_000), CALENDAR, NOW).value == "100\u202f%"


def test_an_order_that_will_be_late_is_loud_and_says_what_pace_it_wants():
    late = replace(ORDER, due_us=at("2026-11-03 06:00"), wanted=5_000.0)
    shown = order_number(late, CALENDAR, NOW)
    assert shown.loud
    assert shown.below[-2:] == ("4\u202f100 an hour, 5\u202f000 wanted", "late, due Tue 06:00")


def test_an_end_today_is_a_clock_time_and_a_far_one_a_date():
    far = replace(ORDER, ends_low_us=at("2026-11-02 21:00"), ends_high_us=at("2026-11-12 08:00"), due_us=None)
    assert order_number(far, CALENDAR, NOW).below[1:] == ("done 21:00 to Thu 12 Nov 08:00",)


def test_without_an_order_nothing_is_claimed():
    assert order_number(None, CALENDAR, NOW).value == "–"
    assert order_number(replace(ORDER, done=40_100), CALENDAR, NOW).below == (
        "40\u202f100 of 40\u202f000",
        "due Wed 14:00",
    )


@pytest.mark.parametrize(
    ("left", "value", "loud"),
    [((9_000, 80_000), "9\u202f000", False), ((3_000, 80_000), "3\u202f000", True), ((-1_200, 60_000), "0", True)],
)
def test_strokes_to_sharpening(left, value, loud):
    shown = sharpen_number(left)
    assert (shown.value, shown.loud) == (value, loud)
    assert sharpen_number(None).value == "–"
