import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboards.request.url import View, date_or_none
from shared.identifiers import as_identifier

DATES = st.none() | st.dates(dt.date(1000, 1, 1))
TEXTS = st.text(st.characters(exclude_categories=("Cs",)), max_size=40).map(as_identifier)


@given(st.builds(View, date=DATES, shift=TEXTS, press=TEXTS, die=TEXTS, since=DATES, until=DATES))
def test_a_view_comes_back_from_its_own_address(view):
    assert View.parse(view.search) == view


def test_the_plain_page_has_a_plain_address():
    assert View().search == ""
    assert View.parse("") == View.parse(None) == View()


def test_only_what_was_chosen_is_in_the_address():
    view = View(date=dt.date(2026, 11, 2), shift="late & long")
    assert view.search == "?date=2026-11-02&shift=late+%26+long"


@pytest.mark.parametrize("search", ["?colour=red&die=D1", "die=D1&date=yesterday", "?die=D2&die=D1&since=2026-13-40"])
def test_what_cannot_be_read_is_left_out(search):
    assert View.parse(search) == View(die="D1")


def test_endless_text_is_cut():
    assert len(View.parse("?die=" + "x" * 9999).die) == 200


def test_a_change_leaves_the_rest():
    assert View(press="P1", shift="late").but(shift="") == View(press="P1")


@pytest.mark.parametrize(("text", "date"), [("2026-11-02T00:00:00", dt.date(2026, 11, 2)), ("no", None), (None, None)])
def test_date_of_a_picker(text, date):
    assert date_or_none(text) == date
