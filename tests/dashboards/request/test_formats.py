import datetime as dt

import numpy as np
import pandas as pd
import pytest

from dashboards.request import formats as f
from tests.invented.five_presses import CALENDAR

UNKNOWN_VALUES = [None, float("nan"), np.nan, pd.NA, pd.NaT, ""]


@pytest.mark.parametrize("value", UNKNOWN_VALUES)
def test_what_is_not_known_is_a_dash_and_never_nought(value):
    assert [f.count(value), f.decimal(value), f.share(value), f.duration(value)] == [f.UNKNOWN] * 4
    assert f.text(value) == ""
    assert f.between(value, 0.5) == ""


def test_nought_is_known():
    assert [f.count(0), f.share(0.0), f.duration(0), f.text(0)] == ["0", "0.00\u202f%", "0\u202fs", "0"]


def test_counts_and_decimals_are_grouped_and_signed():
    assert f.count(1234567) == "1\u202f234\u202f567"
    assert f.decimal(-1234.56) == "−1\u202f234.6"


@pytest.mark.parametrize(
    ("value", "shown"),
    [(0.00123, "0.12\u202f%"), (0.0999, "9.99\u202f%"), (0.123, "12.3\u202f%"), (1.0, "100.0\u202f%")],
)
def test_small_shares_have_two_digits(value, shown):
    assert f.share(value) == shown


def test_an_interval_has_one_unit():
    assert f.between(0.001, 0.0042) == "0.10 to 0.42\u202f%"
    assert f.between(0.05, 0.25) == "5.0 to 25.0\u202f%"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(59, "59\u202fs"), (61, "1\u202fmin"), (3599, "1\u202fh"), (4800, "1\u202fh 20\u202fmin"), (90_000, "25\u202fh")],
)
def test_durations_are_said_as_on_the_shop_floor(seconds, words):
    assert f.duration(seconds) == words


def test_moments_are_plant_time_as_it_stands():
    at_us = 1_793_639_049_000_001
    assert f.clock(at_us, CALENDAR) == "18:04"
    assert f.moment(at_us, CALENDAR) == "Mon 2 Nov 2026, 18:04"
    assert f.date_of(at_us, CALENDAR) == dt.date(2026, 11, 2)
    assert f.short_day(dt.date(2026, 11, 2)) == "Mon 2 Nov"
    assert f.clock(pd.NA, CALENDAR) == f.clock(None, CALENDAR) == f.moment(pd.NA, CALENDAR) == ""
