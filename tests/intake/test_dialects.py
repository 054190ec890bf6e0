"""Twelve shapes of logger files met in practice, each read by its profile: exact rows and counts."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest

from monitor.intake import Profile, find_files, with_profiles
from tests.intake.profiled import Profiled, read_profiled

DIALECTS = Path(__file__).parent / "dialects"
PROFILES = [
    Profile.from_toml(path.read_text("utf-8"), path.stem.partition("-")[2]) for path in DIALECTS.glob("profile-*.toml")
]
US = dt.timedelta(microseconds=1)


def taken(name: str, **more: Any) -> Profiled:
    """The file read by the one profile it fits among all of them."""
    [source] = with_profiles(find_files([DIALECTS / name]), PROFILES)
    assert source.profile, source.refused
    return read_profiled(source.path, source.profile, **more)


def plant(text: str, offset: str = "+01:00") -> dt.datetime:
    return dt.datetime.fromisoformat(text + offset)


def test_1_semicolons_decimal_comma_day_first_windows_1252() -> None:
    found = taken("zaehler-01.csv")
    assert found.cells("line", "time", "press_id", "counter") == [
        (2, plant("2026-11-02T06:00"), "P07", 4812330),
        (3, plant("2026-11-02T06:01"), "P07", 4812412),
        (4, plant("2026-11-02T06:02"), "P08", 91),
    ]
    assert found.reasons == {5: "time is '30.02.2026 06:03:00', expected a date in the order d-m-y"}
    assert (found.read, found.outside) == (4, 0)


def test_2_a_row_of_units_and_cells_that_mean_the_same_as_above() -> None:
    found = taken("width-02.csv")
    assert found.cells("press_id", "counter") == [("P07", 4812330), ("P07", 4812412), ("P08", 91)]
    assert (found.read, found.outside, found.rejected) == (3, 1, [])


def test_3_a_banner_that_names_the_press() -> None:
    found = taken("log-03.txt")
    assert found.cells("line", "time", "press_id", "counter") == [
        (5, plant("2026-11-02T06:00"), "P07", 4812330),
        (6, plant("2026-11-02T06:01"), "P07", 4812412),
    ]
    assert (found.read, found.outside) == (2, 2)


def test_4_twelve_hours_two_digit_years_inches_and_pounds() -> None:
    found = taken("coil-wts-04.csv")
    names = ("coil_id", "received_at", "weight_kg", "thickness_mm", "width_mm")
    assert found.cells(*names) == [
        ("C-20931", plant("2026-11-02T06:14:09"), 732.098085180, 1.00076, 63.5),
        ("C-20932", plant("2026-11-02T12:05:50"), 729.830123330, 1.00076, 63.5),
        ("C-20933", plant("2026-11-02T00:10:00"), 729.830123330, 1.00076, 63.5),
    ]
    assert (found.read, found.outside) == (3, 0)


def test_5_marks_between_thousands_and_a_word_for_nothing() -> None:
    found = taken("gesamt-05-P07.csv")
    assert found.cells("press_id", "counter") == [("P07", 4812330), ("P07", 4817205)]
    assert found.reasons == {
        4: "counter is '4.82', expected a number with no decimal sign and thousands '.', as the profile says",
        5: "counter is empty, expected a whole number not below 0 [strokes]",
    }
    assert (found.read, found.outside) == (4, 0)


def test_6_totals_and_a_signature_are_left_out_and_totals_compared() -> None:
    found = taken("rejects-06.csv")
    assert found.cells("time", "press_id", "cause", "rejected") == [
        (plant("2026-11-02T22:00"), "P07", "BUR", 14),
        (plant("2026-11-02T22:00"), "P07", "SLG", 3),
        (plant("2026-11-02T22:00"), "P08", "BUR", 5),
    ]
    assert found.notes == ["line 6: the total of Pieces is 6, the rows above it add up to 5"]
    assert (found.read, found.outside) == (3, 4)


def test_7_spreadsheet_dates_are_read_and_damaged_names_set_aside() -> None:
    found = taken("sheet-07.csv")
    assert found.reasons.keys() == {1, 3, 4, 2, 5}
    damaged = {line: reason for line, reason in found.reasons.items() if "fits" in reason}
    assert damaged == {
        1: r"coil_id is '4.21E+11', expected what fits 'C-\\d{5}', as the profile says",
        3: r"coil_id is '412', expected what fits 'C-\\d{5}', as the profile says",
        4: r"coil_id is '2026-11-03', expected what fits 'C-\\d{5}', as the profile says",
    }
    waiting = {one.line: (one.waits_for, one.row) for one in found.rejected if one.waits_for}
    assert waiting[2][0] == (("coils", "C-20931"), ("reels", "C-20931"))
    assert '"time": "2026-11-02T07:00:00"' in waiting[2][1]
    assert '"time": "2026-11-02T10:00:00"' in waiting[5][1]
    assert (found.read, found.outside) == (5, 0)


def test_8_shift_totals_count_from_the_start_of_their_shift_to_its_end() -> None:
    found = taken("shifts-08.csv")
    assert sorted(found.cells("time", "counter", "line")) == [
        (plant("2026-11-02T06:00") + US, 0, 2),
        (plant("2026-11-02T14:00"), 38112, 2),
        (plant("2026-11-02T22:00") + US, 0, 3),
        (plant("2026-11-03T06:00"), 12000, 3),
        (plant("2026-11-04T14:00") + US, 0, 4),
        (plant("2026-11-04T22:00"), 36540, 4),
    ]
    assert found.reasons == {5: "time is '05.11.2026 Day', expected one of Early, Late, Night"}
    assert (found.read, found.outside) == (7, 0)


def test_9_pieces_of_a_counter_that_is_set_back_become_strokes() -> None:
    found = taken("tubs-09.csv")
    assert found.cells("time", "counter") == [
        (plant("2026-11-02T06:00:12"), 0),
        (plant("2026-11-02T07:41:55"), 5000),
        (plant("2026-11-02T07:42:31"), 0),
    ]
    assert found.reasons == {4: "counter is '2501', expected a whole number of strokes of 2 pieces"}
    assert (found.read, found.outside) == (4, 1)


def test_9_status_words_become_reasons() -> None:
    found = taken("states-09.csv")
    assert found.cells("start_at", "reason") == [(plant("2026-11-02T07:41:55"), "BRK")]
    assert found.reasons == {3: "reason is 'JAMMED', expected one of TUB FULL"}
    assert (found.read, found.outside) == (2, 1)


def test_10_a_column_a_press_and_hours_to_midnight() -> None:
    found = taken("wide-2026-11-02.csv")
    hours = [
        (plant("2026-11-02T06:00"), plant("2026-11-02T07:00")),
        (plant("2026-11-02T23:00"), plant("2026-11-03T00:00")),
    ]
    made = {"P05": (4870, 4902), "P06": (0, None), "P07": (4875, 4811)}
    wanted = [
        (press, *row)
        for press, counts in made.items()
        for (start, end), count in zip(hours, counts, strict=True)
        if count is not None
        for row in ((start + US, 0), (end, count))
    ]
    assert sorted(found.cells("press_id", "time", "counter")) == wanted
    assert (found.read, found.outside, found.rejected) == (10, 1, [])


def test_11_a_column_a_characteristic_with_limits_above() -> None:
    limits = {("bracket", "hole"): (5.0, 5.1), ("bracket", "height"): (12.2, 12.5)}
    found = taken("bench-2026-11-02.csv", limits=limits)
    ten, eleven = plant("2026-11-02T10:02"), plant("2026-11-02T11:02")
    assert found.cells("characteristic", "time", "piece", "value") == [
        ("hole", ten, 1, 5.05), ("hole", ten, 2, 5.07), ("hole", ten, 3, 5.06), ("hole", eleven, 1, 5.04),
        ("height", ten, 1, 12.31), ("height", ten, 3, 12.43), ("height", eleven, 1, 12.3),
    ]  # fmt: skip
    limits_notes = [note for note in found.notes if "limits" in note]
    assert limits_notes == ["height of bracket: limits 12.2 to 12.4 in the file, 12.2 to 12.5 in characteristics"]
    assert (found.read, found.outside, found.rejected) == (7, 2, [])


def test_12_utf_16_with_the_repeated_hour_and_a_last_line_cut_short() -> None:
    found = taken("unicode-12.txt")
    assert sorted(found.cells("time", "counter")) == [
        (plant("2026-10-25T01:50", "+02:00"), 4786000),
        (plant("2026-10-25T02:10", "+02:00"), 4790110),
        (plant("2026-10-25T02:10"), 4794985),
        (plant("2026-10-25T03:10"), 4799000),
    ]
    assert found.reasons == {
        6: "the last line is cut short, it has no line end: a quote is opened and not closed, expected quotes in pairs"
    }
    assert (found.read, found.outside) == (5, 0)


@pytest.mark.parametrize("path", sorted(p for p in DIALECTS.iterdir() if p.suffix != ".toml"), ids=lambda p: p.name)
def test_every_dialect_fits_one_profile_alone(path: Path) -> None:
    [source] = with_profiles(find_files([path]), PROFILES)
    assert source.profile
    assert (source.refused, source.table) == ("", source.profile.table)
