from itertools import pairwise

import pandas as pd
import pytest

from dashboards.parts.ribbon import Axis, Span, callouts, hour_track, press_track, reason_name, strip_track
from shared.calendar import Calendar
from shared.durations import HOUR_US, MINUTE_US
from shared.plant import Plant
from tests.dashboards.rows import lines
from tests.invented.five_presses import CALENDAR, REASON_NAMES, at

START, END = at("2026-11-02 06:00"), at("2026-11-02 14:00")
WINDOW = CALENDAR.shifts("P01", START, END)[0]
REASONS = REASON_NAMES
UNSEEN = (("07:30", "08:00"), ("08:00", "08:30"))


def axis(seen="10:00", now="10:00"):
    return Axis(START, END, at(f"2026-11-02 {seen}"), at(f"2026-11-02 {now}"))


def stop(start, end, reason="PUN", kind="tooling"):
    return {
        "press_id": "P01",
        "start_at": at(f"2026-11-02 {start}"),
        "end_at": at(f"2026-11-02 {end}") if end else pd.NA,
        "reason": reason,
        "kind": kind,
        "planned": False,
    }


def hours(*ran):
    rows = [{"hour_start": at(f"2026-11-02 {hour}:00"), "running_s": 3600.0, "pieces": 100} for hour in ran]
    return lines("hours", [row | {"strokes": 100, "rejected": 2, "good": 98} for row in rows])


def track(stops, ran=("06", "07", "08", "09"), **seen):
    return press_track(
        axis(**seen), WINDOW, stops=lines("stops", stops), hours=hours(*ran), calendar=CALENDAR, names=REASONS
    )


def looks(spans):
    return [(span.left, span.width, span.look) for span in spans]


def test_running_fills_the_time_between_stops():
    assert looks(track([stop("08:00", "09:00")]))[:3] == [
        (0, 25, "run"),
        (25, 12.5, "kind-tooling"),
        (37.5, 12.5, "run"),
    ]


def test_breaks_ahead_are_drawn_and_those_that_were_are_not_drawn_twice():
    ahead = [span for span in track([stop("09:00", "09:30", "break", "planned")]) if span.look == "ahead"]
    assert looks(ahead) == [(75, 3.125, "ahead")]


def test_an_hour_without_running_time_is_not_called_running():
    spans = track([], ran=("06", "08", "09"))
    assert looks(spans)[:3] == [(0, 12.5, "run"), (12.5, 12.5, "unknown"), (25, 25, "run")]


def test_time_after_the_last_reading_is_silent_and_not_standing():
    silent = [span for span in track([], seen="09:30", now="10:00") if span.look == "unknown"]
    assert looks(silent) == [(43.75, 6.25, "unknown")]
    assert silent[0].word == "silent"


def test_a_stop_without_end_stands_until_the_newest_reading():
    standing = next(span for span in track([stop("09:00", None, "no reason yet", "")]) if span.look == "kind-none")
    assert (standing.left, standing.width, standing.word) == (37.5, 12.5, "no reason yet")
    assert "still standing" in standing.title


def test_time_that_nobody_saw_is_hatched_and_not_running_though_its_hour_ran():
    # 07:30 to 08:30 of 06:00 to 14:00, parted by a die change, in hours that ran else.
    unseen = [{"from_us": at(f"2026-11-02 {a}"), "to_us": at(f"2026-11-02 {b}")} for a, b in UNSEEN]
    spans = press_track(
        axis(),
        WINDOW,
        stops=lines("stops", []),
        hours=hours("06", "07", "08", "09"),
        calendar=CALENDAR,
        names=REASONS,
        unseen=unseen,
    )
    assert looks(spans)[:3] == [(0, 18.75, "run"), (18.75, 12.5, "unseen"), (31.25, 18.75, "run")]
    assert (spans[1].word, spans[1].note) == ("not seen", "1\u202fh")
    assert spans[1].title == "not seen: 07:30 to 08:30, 1\u202fh; no reading in between"


def test_a_stop_over_the_shift_change_is_cut_at_it():
    spans = track([stop("05:00", "07:00")])
    assert looks(spans)[0] == (0, 12.5, "kind-tooling")


def test_every_moment_up_to_now_is_drawn_once():
    spans = track([stop("06:10", "06:13", "", ""), stop("08:00", "09:00"), stop("09:50", None, "", "")])
    past = [span for span in spans if span.look != "ahead"]
    for one, following in pairwise(past):
        assert one.left + one.width == pytest.approx(following.left, abs=0.002)
    assert past[-1].left + past[-1].width == pytest.approx(50)


def test_hours_of_a_plant_off_the_full_hour_are_its_own():
    toml = 'timezone="Asia/Kolkata"\n[[shift]]\nname="day"\nstart="06:00"\nend="14:00"\n'
    calendar = Calendar(Plant.from_toml(toml))
    window = calendar.shifts("P1", START - 6 * HOUR_US, START + 6 * HOUR_US)[0]
    own = Axis(window.start_us, window.end_us, window.start_us + 2 * HOUR_US, window.start_us + 2 * HOUR_US)
    ran = lines("hours", [{"hour_start": window.start_us, "running_s": 9.0, "pieces": 5, "rejected": 0}])
    spans = press_track(own, window, stops=lines("stops", []), hours=ran, calendar=calendar, names={})
    assert looks(spans) == [(0, 12.5, "run"), (12.5, 12.5, "unknown")]
    assert [hour.label for hour in hour_track(own, ran, calendar)][:2] == ["06", "07"]


def test_words_have_room_up_to_the_next_word_and_short_stops_have_none():
    words = [Span(10, 5, "kind-setup", "coil change"), Span(20, 0.2, "kind-none", "x"), Span(40, 6, "ahead", "break")]
    assert [(span.left, span.width, span.word) for span in callouts(words, axis())] == [
        (10, 30, "coil change"),
        (40, 60, "break"),
    ]


def test_a_shift_without_a_stop_has_no_words():
    assert callouts([Span(0, 100, "run")], axis()) == []


def test_reasons_are_called_as_the_plant_calls_them():
    assert [reason_name(code, REASONS) for code in ("CCH", "XYZ", "")] == ["coil change", "XYZ", "no reason yet"]


def coil(coil_id, mounted, removed, **more):
    row = {"coil_id": coil_id, "lot": "L1", "mounted_at": mounted, "removed_at": pd.NA if removed is None else removed}
    return row | {"used_m": 100.0, "rejected": 3, "pieces": 900, "coil_yield": 0.61, "heat": "H7"} | more


def test_strip_lies_under_the_time_its_coil_was_on_the_press():
    coils = lines(
        "coils", [coil("C1", START - 3 * HOUR_US, START + 2 * HOUR_US), coil("C2", START + 3 * HOUR_US, None)]
    )
    spans = strip_track(axis(), coils, CALENDAR, None)
    assert looks(spans) == [(0, 25, "coil"), (37.5, 12.5, "coil")]
    assert spans[0].word == "C1 · lot L1"
    assert "3 of 900 pieces rejected" in spans[0].title
    assert "heat H7" in spans[0].title


def test_strip_left_reaches_ahead_of_now():
    coils = lines("coils", [coil("C1", START, None)])
    ahead = strip_track(axis(), coils, CALENDAR, at("2026-11-02 12:00"))[-1]
    assert (ahead.left, ahead.width, ahead.word) == (50, 25, "to 12:00")


def test_strip_ahead_is_no_forecast_for_a_shift_that_is_over():
    coils = lines("coils", [coil("C1", START, None)])
    over = axis(seen="15:00", now="15:00")
    assert [span.look for span in strip_track(over, coils, CALENDAR, at("2026-11-02 16:00"))] == ["coil"]


def test_a_coil_mounted_after_the_shift_is_not_shown():
    assert strip_track(axis(), lines("coils", [coil("C9", END + MINUTE_US, None)]), CALENDAR, None) == []


def test_every_hour_has_its_pieces_and_hours_to_come_have_none():
    cells = hour_track(axis(), hours("06", "07"), CALENDAR)
    assert [(hour.label, hour.pieces, hour.rejected) for hour in cells][:3] == [
        ("06", 100, 2),
        ("07", 100, 2),
        ("08", None, 0),
    ]
    assert sum(hour.width for hour in cells) == pytest.approx(100)


def test_a_night_of_nine_hours_has_nine_cells():
    window = CALENDAR.shifts("P01", at("2026-10-24 23:00"), at("2026-10-25 01:00"))[0]
    own = Axis(window.start_us, window.end_us, window.end_us, window.end_us)
    labels = [hour.label for hour in hour_track(own, hours(), CALENDAR)]
    assert labels == ["22", "23", "00", "01", "02", "02", "03", "04", "05"]


def test_a_shift_that_starts_off_the_hour_shows_the_hour_it_starts_in():
    own = Axis(START + 45 * MINUTE_US, END, END, END)
    assert hour_track(own, hours("06"), CALENDAR)[0].label == "06"
