import datetime as dt

import pytest

from dashboards.ledger.service import LedgerService
from dashboards.pages.die.model import chosen, load_die
from dashboards.request.url import View
from tests.invented.five_presses import FivePresses


@pytest.fixture
def reading(service):
    return service.read()


@pytest.fixture
def shown(reading):
    return load_die(reading, View(die="D131"))


def test_the_page_chooses_the_first_mounted_die_and_the_last_week(reading):
    assert chosen(reading, View()) == View(die="D102", since=dt.date(2026, 10, 27), until=dt.date(2026, 11, 2))


def test_what_the_address_chooses_stays(reading):
    view = View(die="D140", since=dt.date(2026, 11, 1), until=dt.date(2026, 11, 1), shift="late")
    assert chosen(reading, view) == view


def test_totals_are_those_of_the_shifts_below_them(shown):
    shifts = shown.tables["shifts"]
    total = {number.label: number for number in shown.totals}
    pieces = sum(int(value.replace("\u202f", "")) for value in shifts["Pieces"])
    assert int(total["Pieces"].value.replace("\u202f", "")) == pieces
    assert pieces == shown.tables["hours"]["pieces"].sum()


def test_newest_shift_stands_first(shown):
    shifts = shown.tables["shifts"]
    assert shifts["Date"].iloc[0] == "Mon 2 Nov 2026"
    assert set(shifts["Shift"]) == {"early", "late", "night"}


def test_rated_pieces_an_hour_are_those_of_the_die(shown):
    assert shown.rated_per_hour == pytest.approx(48 * 2 * 60)


def test_losses_begin_with_what_was_received_and_end_with_the_difference(shown):
    parts = shown.tables["losses"]["part"]
    assert (parts.iloc[0], parts.iloc[-1]) == ("received", "difference")


def test_one_shift_holds_only_its_own_rows(reading):
    shown = load_die(reading, View(die="D131", shift="late"))
    assert set(shown.tables["shifts"]["Shift"]) == {"late"}
    assert {shown.clock.local_time(start).hour for start in shown.tables["hours"]["hour_start"]} <= set(range(14, 22))


@pytest.mark.parametrize(
    ("view", "words"),
    [
        (View(die="D999"), "no die “D999”"),
        (View(die="D102", since=dt.date(2026, 1, 1), until=dt.date(2026, 1, 2)), "made no stroke from Thu 1 Jan 2026"),
        (View(die="D102", since=dt.date(2026, 11, 2), until=dt.date(2026, 11, 1)), "run backwards"),
        (View(die="D102", shift="swing"), "no shift called “swing”. It has early, late, night"),
    ],
)
def test_what_is_not_there_is_told_with_what_to_do(reading, view, words):
    shown = load_die(reading, view)
    assert words in shown.lack
    assert shown.tables == {}


def test_a_ledger_without_readings_says_what_to_load(tmp_path):
    unread = FivePresses(tmp_path, "2026-11-02 19:41", unread=("P01", "P02", "P03", "P04", "P05"))
    assert "Load strokes" in load_die(LedgerService(unread.load()).read(), View()).lack


def test_a_plant_book_without_dies_says_what_to_load(empty_service):
    assert "dies.csv" in load_die(empty_service.read(), View()).lack
