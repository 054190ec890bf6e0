import datetime as dt

import pytest

from dashboards.ledger.service import LedgerService
from dashboards.pages.board.model import load_board
from dashboards.request.url import View
from shared.calendar import Calendar
from shared.plant import Plant
from tests.dashboards.rows import table
from tests.invented.five_presses import PLANT_TOML, FivePresses, at

AFTERNOON = "2026-11-02 14:00"
#: A plant without a night shift, whose late shift ends at five.
SHORT_DAY = PLANT_TOML.replace('end = "22:00"', 'end = "17:00"').replace("18:", "15:")


@pytest.fixture
def reading(service):
    return service.read()


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    """The newest version of a plant of its own."""

    def load(*span, **more):
        return LedgerService(FivePresses(tmp_path_factory.mktemp("plant"), *span, **more).load()).read()

    return load


@pytest.fixture(scope="module")
def short_day(loaded):
    return loaded("2026-11-02 15:35", toml=SHORT_DAY)


def numbers(row):
    return {number.label: number for number in row.numbers}


def test_the_board_follows_the_shift_of_the_newest_reading(reading):
    board = load_board(reading, View())
    assert board.title == "late shift, Mon 2 Nov 2026"
    assert board.live
    assert [row.press_id for row in board.rows] == ["P01", "P02", "P03", "P04", "P05"]
    assert board.later is None
    assert board.earlier == View(date=dt.date(2026, 11, 2), shift="early")


def test_a_reading_on_the_stroke_of_the_shift_change_still_shows_the_shift_that_ended(loaded):
    board = load_board(loaded("2026-11-02 13:00", AFTERNOON), View())
    assert board.title == "early shift, Mon 2 Nov 2026"
    assert "off" not in {row.state.look for row in board.rows}


def test_a_shift_just_begun_shows_its_presses_before_there_is_a_figure(service, monkeypatch):
    reading = service.read()
    monkeypatch.setattr(reading, "figures", lambda names, *_, **__: {name: table(name, []) for name in names})
    board = load_board(reading, View())
    assert board.lack == ""
    assert [number.value for number in board.rows[0].numbers][:5] == ["0", "–", "–", "–", "–"]


def test_what_stands_and_what_is_silent_is_said_first(reading):
    assert load_board(reading, View()).summary == (
        "3 of 5 presses run.",
        "P02 stands 23\u202fmin: no reason yet.",
        "Counter of P05 silent for 6\u202fmin.",
    )


def test_many_presses_in_trouble_are_told_together(loaded):
    summary = load_board(loaded("2026-11-02 19:00", fives=3), View()).summary
    assert summary[0] == "9 of 15 presses run."
    assert summary[1:] == ("Standing: P02, P12, P22.", "Counter silent: P05, P15, P25.")


def test_after_the_last_shift_of_the_day_nobody_is_alarmed(short_day):
    board = load_board(short_day, View())
    assert board.title == "late shift, Mon 2 Nov 2026"
    assert {row.press_id: row.state.look for row in board.rows} == {
        **dict.fromkeys(("P01", "P03", "P04"), "run"),
        **dict.fromkeys(("P02", "P05"), "off"),
    }
    assert board.summary == ("3 of 5 presses run.", "P02 has no shift.", "P05 has no shift.")


def test_a_plant_at_rest_says_which_shift_is_shown(short_day, monkeypatch):
    at_rest = short_day.press_states().assign(standing_since_us=at("2026-11-02 17:00"))
    monkeypatch.setattr(short_day, "press_states", lambda: at_rest)
    assert load_board(short_day, View()).summary == ("No shift is planned now; this is the last one.",)


def test_pieces_of_the_hours_are_those_of_the_shift(reading):
    for row in load_board(reading, View()).rows:
        hourly = sum(hour.pieces or 0 for hour in row.hours)
        assert hourly > 10_000
        assert numbers(row)["Pieces"].value == f"{hourly:,}".replace(",", "\u202f")


def test_a_chosen_shift_is_over_and_forecasts_nothing(reading):
    board = load_board(reading, View(date=dt.date(2026, 11, 2), shift="early"))
    assert (board.title, board.live, board.summary) == ("early shift, Mon 2 Nov 2026", False, ())
    assert board.later == View(date=dt.date(2026, 11, 2), shift="late")
    for row in board.rows:
        assert "Strip left" not in numbers(row)
        assert row.state.words == ""
        assert not [span for span in (*row.track, *row.strip) if span.look in ("ahead", "coil-ahead")]


def test_a_night_shift_keeps_its_hours_on_both_sides_of_midnight(reading):
    row = load_board(reading, View(date=dt.date(2026, 11, 1), shift="night")).rows[0]
    assert [hour.label for hour in row.hours] == ["22", "23", "00", "01", "02", "03", "04", "05"]
    assert all(hour.pieces for hour in row.hours)


def test_a_shift_without_a_date_is_the_last_of_that_name(reading):
    assert load_board(reading, View(shift="early")).title == "early shift, Mon 2 Nov 2026"


def test_one_press_alone_keeps_the_newest_reading_of_the_plant(reading):
    board = load_board(reading, View(press="P05"))
    assert [row.press_id for row in board.rows] == ["P05"]
    assert board.rows[0].state.look == "silent"
    assert board.earlier.press == "P05"


def test_standing_without_a_reason_is_never_in_the_rest(reading):
    shown = load_board(reading, View()).rows
    none = [[span for span in row.track if span.look == "kind-none"] for row in shown]
    assert any(none)
    assert [bool(spans) for spans in none] == [any(why.look == "" for why in row.why) for row in shown]


def test_presses_with_shifts_of_their_own_say_so(loaded):
    own = PLANT_TOML + '[[shift]]\nname = "day"\nstart = "08:00"\nend = "20:00"\npresses = ["P01"]\n'
    own = own.replace('end = "14:00"\n', 'end = "14:00"\npresses = ["P02", "P03", "P04", "P05"]\n', 1)
    own = own.replace('end = "22:00"\n', 'end = "22:00"\npresses = ["P02", "P03", "P04", "P05"]\n', 1)
    own = own.replace('start = "22:00"\nend = "06:00"\n', 'start = "22:00"\nend = "06:00"\npresses = ["P02"]\n', 1)
    reading = loaded("2026-11-01 23:00", toml=own)
    rows = load_board(reading, View()).rows
    assert rows[0].shift == "day shift, Mon 2 Nov 2026"
    assert {row.shift for row in rows[1:]} == {""}
    night = load_board(reading, View(date=dt.date(2026, 11, 1), shift="night"))
    assert [row.press_id for row in night.rows] == ["P02"]
    assert night.summary == ("Without this shift: P01, P03, P04, P05.",)


@pytest.mark.parametrize(
    ("view", "words"),
    [
        (View(press="P99"), "no press “P99”"),
        (View(shift="swing"), "no shift called “swing”"),
        (View(date=dt.date(2026, 11, 2), shift="swing"), "Planned on that day: early, late, night"),
        (View(date=dt.date(2026, 10, 20), shift="early"), "No press has a reading in the early shift"),
    ],
)
def test_what_is_not_there_is_told_with_what_to_do(reading, view, words):
    board = load_board(reading, view)
    assert words in board.lack
    assert board.rows == ()


def test_an_empty_ledger_says_what_to_load(empty_service):
    assert "strokeledger load" in load_board(empty_service.read(), View()).lack


def test_a_plant_without_shifts_says_what_to_load(reading, monkeypatch):
    for calendar in (None, Calendar(Plant.from_toml('timezone = "Europe/Berlin"'))):
        monkeypatch.setattr(reading, "calendar", lambda calendar=calendar: calendar)
        assert "plant.toml" in load_board(reading, View()).lack


def test_presses_that_were_never_read_say_what_to_load(loaded):
    unread = loaded("2026-11-02 19:41", unread=("P01", "P02", "P03", "P04", "P05"))
    assert unread.press_states()["press_id"].tolist() == ["P01", "P02", "P03", "P04", "P05"]
    assert "strokes" in load_board(unread, View()).lack


def test_one_press_never_read_stands_among_the_others(loaded):
    row = load_board(loaded("2026-11-02 19:00", unread=("P04",)), View()).rows[3]
    assert (row.press_id, row.state.words, row.die_id) == ("P04", "No reading yet", "")
    assert {span.look for span in row.track} == {"unknown"}
