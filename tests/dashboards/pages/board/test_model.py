import datetime as dt
from dataclasses import replace

import pytest

from dashboards.pages.board.model import load_board
from dashboards.request.url import View
from shared.calendar import Calendar
from shared.plant import Plant
from tests.dashboards.invented_plant import PLANT_TOML, PlantDoor, crowd, empty, plant


@pytest.fixture(scope="module")
def frames():
    return plant(days=2)


@pytest.fixture
def service(frames):
    return PlantDoor(frames)


def numbers(row):
    return {number.label: number for number in row.numbers}


def test_the_board_follows_the_shift_of_the_newest_reading(service):
    board = load_board(service, View())
    assert board.title == "late shift, Mon 2 Nov 2026"
    assert board.live
    assert [row.press_id for row in board.rows] == ["P01", "P02", "P03", "P04", "P05"]
    assert board.later is None
    assert board.earlier == View(date=dt.date(2026, 11, 2), shift="early")


def test_a_reading_on_the_stroke_of_the_shift_change_still_shows_the_shift_that_ended():
    board = load_board(PlantDoor(plant(days=1, newest="2026-11-02 14:00")), View())
    assert board.title == "early shift, Mon 2 Nov 2026"
    assert "off" not in {row.state.look for row in board.rows}


def test_a_shift_just_begun_shows_its_presses_before_there_is_a_figure(frames):
    figures = {name: rows.iloc[:0] for name, rows in frames.figures.items()}
    board = load_board(PlantDoor(replace(frames, figures=figures)), View())
    assert board.lack == ""
    assert [number.value for number in board.rows[0].numbers][:5] == ["0", "–", "–", "–", "–"]


def test_what_stands_and_what_is_silent_is_said_first(service):
    assert load_board(service, View()).summary == (
        "3 of 5 presses run.",
        "P02 stands 23\u202fmin: no reason yet.",
        "Counter of P05 silent for 6\u202fmin.",
    )


def test_many_presses_in_trouble_are_told_together(frames):
    summary = load_board(PlantDoor(crowd(frames, 3)), View()).summary
    assert summary[0] == "9 of 15 presses run."
    assert summary[1:] == ("Standing: P02, P12, P22.", "Counter silent: P05, P15, P25.")


def test_after_the_last_shift_of_the_week_nobody_is_alarmed(frames):
    weekday = Calendar(Plant.from_toml(PLANT_TOML.replace('end = "22:00"', 'end = "17:00"').replace("18:", "15:")))
    board = load_board(PlantDoor(frames, weekday), View())
    assert board.title == "late shift, Mon 2 Nov 2026"
    assert {row.press_id: row.state.look for row in board.rows} == {
        **dict.fromkeys(("P01", "P03", "P04"), "run"),
        **dict.fromkeys(("P02", "P05"), "off"),
    }
    assert board.summary == ("3 of 5 presses run.", "P02 has no shift.", "P05 has no shift.")


def test_a_plant_at_rest_says_which_shift_is_shown(frames):
    weekday = Calendar(Plant.from_toml(PLANT_TOML.replace('end = "22:00"', 'end = "17:00"').replace("18:", "15:")))
    at_rest = replace(frames, states=frames.states.assign(standing_since="2026-11-02T17:00:00+01:00"))
    assert load_board(PlantDoor(at_rest, weekday), View()).summary == (
        "No shift is planned now; this is the last one.",
    )


def test_pieces_of_the_hours_are_those_of_the_shift(service):
    for row in load_board(service, View()).rows:
        hourly = sum(hour.pieces or 0 for hour in row.hours)
        assert numbers(row)["Pieces"].value == f"{hourly:,}".replace(",", "\u202f")


def test_a_chosen_shift_is_over_and_forecasts_nothing(service):
    board = load_board(service, View(date=dt.date(2026, 11, 2), shift="early"))
    assert (board.title, board.live, board.summary) == ("early shift, Mon 2 Nov 2026", False, ())
    assert board.later == View(date=dt.date(2026, 11, 2), shift="late")
    for row in board.rows:
        assert "Strip left" not in numbers(row)
        assert row.state.words == ""
        assert not [span for span in (*row.track, *row.strip) if span.look in ("ahead", "coil-ahead")]


def test_a_night_shift_keeps_its_hours_on_both_sides_of_midnight(service):
    row = load_board(service, View(date=dt.date(2026, 11, 1), shift="night")).rows[0]
    assert [hour.label for hour in row.hours] == ["22", "23", "00", "01", "02", "03", "04", "05"]
    assert all(hour.pieces for hour in row.hours)


def test_a_shift_without_a_date_is_the_last_of_that_name(service):
    assert load_board(service, View(shift="early")).title == "early shift, Mon 2 Nov 2026"


def test_one_press_alone_keeps_the_newest_reading_of_the_plant(service):
    board = load_board(service, View(press="P05"))
    assert [row.press_id for row in board.rows] == ["P05"]
    assert board.rows[0].state.look == "silent"
    assert board.earlier.press == "P05"


def test_standing_without_a_reason_is_never_in_the_rest(service):
    for row in load_board(service, View()).rows:
        none = [span for span in row.track if span.look == "kind-none"]
        assert bool(none) == any(why.look == "" for why in row.why)


def test_presses_with_shifts_of_their_own_say_so(frames):
    own = PLANT_TOML + '[[shift]]\nname = "day"\nstart = "08:00"\nend = "20:00"\npresses = ["P01"]\n'
    own = own.replace('end = "14:00"\n', 'end = "14:00"\npresses = ["P02", "P03", "P04", "P05"]\n', 1)
    own = own.replace('end = "22:00"\n', 'end = "22:00"\npresses = ["P02", "P03", "P04", "P05"]\n', 1)
    own = own.replace('start = "22:00"\nend = "06:00"\n', 'start = "22:00"\nend = "06:00"\npresses = ["P02"]\n', 1)
    service = PlantDoor(frames, Calendar(Plant.from_toml(own)))
    rows = load_board(service, View()).rows
    assert rows[0].shift == "day shift, Mon 2 Nov 2026"
    assert {row.shift for row in rows[1:]} == {""}
    night = load_board(service, View(date=dt.date(2026, 11, 1), shift="night"))
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
def test_what_is_not_there_is_told_with_what_to_do(service, view, words):
    board = load_board(service, view)
    assert words in board.lack
    assert board.rows == ()


def test_an_empty_ledger_says_what_to_load():
    assert "strokeledger load" in load_board(PlantDoor(empty()), View()).lack


def test_a_plant_without_shifts_says_what_to_load(frames):
    assert "plant.toml" in load_board(PlantDoor(frames, None), View()).lack
    bare = Calendar(Plant.from_toml('timezone = "Europe/Berlin"'))
    assert "plant.toml" in load_board(PlantDoor(frames, bare), View()).lack


def test_presses_that_were_never_read_say_what_to_load(frames):
    unread = replace(frames, states=frames.states.assign(last_reading_at=""))
    assert "strokes" in load_board(PlantDoor(unread), View()).lack


def test_one_press_never_read_stands_among_the_others(frames):
    states = frames.states.copy()
    states.loc[states["press_id"] == "P04", ["last_reading_at", "die_id", "part_no"]] = ""
    figures = {name: rows[rows["press_id"] != "P04"] for name, rows in frames.figures.items()}
    row = load_board(PlantDoor(replace(frames, states=states, figures=figures)), View()).rows[3]
    assert (row.press_id, row.state.words, row.die_id) == ("P04", "No reading yet", "")
    assert {span.look for span in row.track} == {"unknown"}
