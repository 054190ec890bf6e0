import datetime as dt

import pytest
from dash import no_update

from dashboards.parts import linked_fields as linked
from dashboards.parts.linked_fields import days, picked, sync, written
from dashboards.request.url import View

FIELDS = (written("find", "value"), picked("press", "press", "all"), *days("dates"))


@pytest.fixture
def changed(monkeypatch):
    def change(component):
        monkeypatch.setattr(linked, "ctx", type("Context", (), {"triggered_id": component}))

    return change


def answer(search, *values):
    return sync("url", FIELDS, lambda view: view, search, *values)


def test_an_address_fills_the_fields_and_is_left_alone(changed):
    changed("url")
    told = answer("?value=C1&since=2026-11-02", "old", "P1", None, None)
    assert told == (no_update, "C1", "all", "2026-11-02", None)


def test_fields_make_the_address_and_are_left_as_they_are(changed):
    changed("press")
    told = answer("?die=D1", " C1 ", "P1", "2026-11-02", None)
    assert told[1:] == (" C1 ", "P1", "2026-11-02", None)
    assert View.parse(told[0]) == View(die="D1", value="C1", press="P1", since=dt.date(2026, 11, 2))


def test_no_choice_is_no_part_of_the_address(changed):
    changed("press")
    assert answer("?press=P1", "", "all", None, None)[0] == ""
    assert answer("?press=P1", None, None, None, None)[0] == ""


def test_other_days_end_the_choice_of_one_shift_unless_it_has_a_field(changed):
    changed("dates")
    search = "?since=2026-11-02&until=2026-11-02&shift=early"
    same = answer(search, "", "all", "2026-11-02", "2026-11-02")[0]
    assert View.parse(same).shift == "early"
    other = answer(search, "", "all", "2026-11-02", "2026-11-03")[0]
    assert View.parse(other).shift == ""
    kept = sync("url", days("dates", keeps_shift=True), lambda view: view, search, "2026-11-02", "2026-11-03")[0]
    assert View.parse(kept).shift == "early"


def test_what_the_page_chooses_stands_in_the_fields(changed):
    changed("url")
    told = sync("url", FIELDS, lambda view: view.but(press="P7"), "", "", "", "", "")
    assert told[2] == "P7"
