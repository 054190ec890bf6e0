from types import MappingProxyType

import pandas as pd
import pytest

from dashboards.pages.board.press_rows import numbers, planned_pieces, press_state
from dashboards.parts.strip_left import strip_left, strip_number, strokes_per_minute
from tests.dashboards.rows import lines
from tests.invented.five_presses import CALENDAR, at

NEWEST = at("2026-11-02 10:00")
RATED = {"D1": 7200.0}
NO_STOPS, NO_HOURS, NO_COILS = lines("stops", []), lines("hours", []), lines("coils", [])


def state(last=NEWEST, since=pd.NA, **more):
    return {
        "last_reading_us": last,
        "standing_since_us": since,
        "die_id": "D1",
        "rated_spm": 60,
        "parts_per_stroke": 2,
    } | more


def status(state, newest_us, stops, hours, names=MappingProxyType({}), shift_over=False):
    return press_state(state, newest_us, stops, hours, names=names, calendar=CALENDAR, shift_over=shift_over)


def hour(start, strokes, running_s):
    return {"hour_start": at(f"2026-11-02 {start}:00"), "strokes": strokes, "running_s": running_s}


def shift(die="D1", planned_s=3600.0, running_s=1800.0, pieces=3000, **more):
    counts = {"pieces": pieces, "setup_pieces": 0, "good": pieces, "stopped_s": planned_s - running_s}
    return {"die_id": die, "planned_s": planned_s, "running_s": running_s} | counts | more


def test_running_press_says_its_speed():
    hours = lines("hours", [hour("08", 900, 900.0), hour("09", 1800, 1800.0), hour("07", 1, 3600.0)])
    shown = status(state(), NEWEST, NO_STOPS, hours)
    assert (shown.look, shown.words, shown.detail) == ("run", "Running", "60 strokes a minute")


def test_standing_press_says_for_how_long_and_why():
    stops = lines("stops", [{"start_at": at("2026-11-02 09:38"), "reason": "PUN", "planned": False}])
    shown = status(state(since=at("2026-11-02 09:38")), NEWEST, stops, NO_HOURS, names={"PUN": "chipped punch"})
    assert (shown.look, shown.words, shown.detail) == ("stand", "Standing 22\u202fmin", "chipped punch")


def test_standing_in_a_break_is_no_alarm_and_without_a_stop_row_has_no_reason_yet():
    stops = lines("stops", [{"start_at": NEWEST, "reason": "break", "planned": True}])
    assert status(state(since=NEWEST), NEWEST, stops, NO_HOURS).look == "plan"
    assert status(state(since=NEWEST), NEWEST, NO_STOPS, NO_HOURS).detail == "no reason yet"


def test_a_silent_counter_outranks_running_and_standing():
    shown = status(
        state(at("2026-11-02 09:54"), since=at("2026-11-02 09:00")),
        NEWEST,
        NO_STOPS,
        NO_HOURS,
    )
    assert (shown.look, shown.words, shown.detail) == ("silent", "Counter silent for 6\u202fmin", "last 09:54")


def test_a_counter_a_little_behind_is_not_silent():
    assert status(state(at("2026-11-02 09:56")), NEWEST, NO_STOPS, NO_HOURS).look == "run"


def test_between_shifts_standing_and_silence_are_no_alarm_but_running_is_still_told():
    for at_rest in (state(at("2026-11-02 02:00")), state(since=at("2026-11-02 06:00"))):
        shown = status(at_rest, NEWEST, NO_STOPS, NO_HOURS, shift_over=True)
        assert (shown.look, shown.words) == ("off", "No shift now")
    assert status(state(), NEWEST, NO_STOPS, NO_HOURS, shift_over=True).look == "run"


def test_a_press_never_read_says_so():
    assert status(state(pd.NA), NEWEST, NO_STOPS, NO_HOURS).words == "No reading yet"


def test_speed_is_not_known_before_the_press_ran():
    assert strokes_per_minute(lines("hours", [hour("08", 0, 0.0)])) is None


def test_plan_is_planned_time_at_rated_speed_die_by_die():
    shifts = lines("shifts", [shift(), shift("D0", planned_s=1800.0), shift("", planned_s=900.0)])
    assert planned_pieces(shifts, {"D1": 7200.0, "D0": 400.0}) == 7200 + 200


def test_plan_is_not_known_without_a_rate_or_a_die():
    assert planned_pieces(lines("shifts", [shift(), shift("D0")]), {"D1": 7200.0, "D0": None}) is None
    assert planned_pieces(lines("shifts", [shift("")]), {}) is None


def coil(**more):
    row = {"used_m": 100.0, "used_kg": 50.0, "strokes": 2000, "remaining_kg": 25.0}
    row |= {"overrun_m": 0.0, "pieces": 3980, "unfinished": 10}
    return lines("coils", [row | more])


def test_strip_left_in_metres_and_time_at_the_present_rate():
    left = strip_left(coil(), lines("hours", [hour("09", 3600, 3600.0)]))
    assert left.metres == 50
    # 50 m of 50 mm pitch are 1,000 strokes; two pieces a stroke, one stroke a second.
    assert (left.end.progressions, left.end.pieces) == (1000, 2000)
    assert left.end.minutes == pytest.approx(1000 / 60)
    # 2 % of the 50 kg used is 1 kg of the 25 left: 960 to 1,040 strokes.
    assert (left.end.minutes_low, left.end.minutes_high) == pytest.approx((16, 1040 / 60))
    shown = strip_number(left)
    assert (shown.value, shown.loud) == ("50\u202fm", True)
    assert shown.below == (
        "about 17\u202fmin",
        "16\u202fmin to 17\u202fmin",
        "2\u202f000 pieces",
        "stage the next coil",
    )


def test_strip_for_hours_is_not_loud():
    assert strip_number(strip_left(coil(), lines("hours", [hour("09", 360, 3600.0)]))).loud is False


def test_strip_of_a_press_that_stood_all_shift_has_no_time():
    assert strip_number(strip_left(coil(), NO_HOURS)).below == ()


def test_strip_not_weighed_is_not_known_and_none_mounted_says_so():
    assert strip_number(strip_left(coil(remaining_kg=float("nan")), NO_HOURS)).below == ("weight not known",)
    assert strip_number(strip_left(coil(removed_at=NEWEST), NO_HOURS)).below == ("no coil noted",)


def test_strip_over_its_length_means_a_change_was_not_noted():
    shown = strip_number(strip_left(coil(overrun_m=12.4, remaining_kg=0.0), NO_HOURS))
    assert shown.loud
    assert shown.below == ("12\u202fm over its length:", "a change was not noted")


def test_numbers_stand_with_what_they_rest_on():
    scrap = lines("scrap", [{"kind": "full", "inspected": 3000, "rejected": 6, "cause": "BUR", "spread": False}])
    shown = numbers(lines("shifts", [shift(setup_pieces=12)]), scrap, RATED)
    assert [(n.label, n.value) for n in shown] == [
        ("Pieces", "3\u202f000"),
        ("Parts per hour", "3\u202f000"),
        ("Uptime", "50\u202f%"),
        ("Scrap", "0.20\u202f%"),
    ]
    assert shown[0].below == ("42\u202f% of 7\u202f200 planned", "12 setting pieces")
    assert shown[1].below == ("planned", "6\u202f000 running")
    assert shown[2].below == ("stood 30\u202fmin",)
    assert shown[3].below == ("6 of 3\u202f000", "0.09 to 0.44\u202f%")


def test_time_of_a_die_of_two_parts_is_counted_once_and_no_number_is_nan():
    empty = dict.fromkeys(("planned_s", "running_s", "stopped_s"), float("nan"))
    both = lines("shifts", [shift(setup_pieces=12), shift(setup_pieces=0, **empty)])
    none = lines("scrap", [])
    one, two = (numbers(rows, none, RATED) for rows in (lines("shifts", [shift(setup_pieces=12)]), both))
    # Twice 3,000 pieces in the same planned hour, half of it running.
    assert (one[1].value, two[1].value) == ("3\u202f000", "6\u202f000")
    assert two[1].below == ("planned", "12\u202f000 running")
    assert [number.value for number in two[2:]] == [number.value for number in one[2:]]
    assert planned_pieces(both, RATED) == 7200


def test_a_sample_is_marked_and_no_inspection_is_not_nought():
    sample = lines("scrap", [{"kind": "sample", "inspected": 40, "rejected": 0, "cause": "", "spread": False}])
    assert numbers(lines("shifts", [shift()]), sample, RATED)[3].below[0] == "0 of 40 sampled"
    none = numbers(lines("shifts", [shift()]), lines("scrap", []), RATED)[3]
    assert (none.value, none.below) == ("–", ("no inspection yet",))


def test_without_a_die_there_is_nothing_to_plan_by():
    assert numbers(lines("shifts", [shift("")]), lines("scrap", []), RATED)[0].below == ("no die in the press",)
    assert numbers(lines("shifts", [shift("D0")]), lines("scrap", []), {})[0].below == ("no rate known to plan by",)


def test_no_rows_give_dashes_and_never_nought_per_hour():
    shown = numbers(lines("shifts", []), lines("scrap", []), RATED)
    assert [n.value for n in shown] == ["0", "–", "–", "–"]
