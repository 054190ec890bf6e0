"""plant.toml: what is read and what a wrong one is told."""

from __future__ import annotations

import datetime as dt

import pytest

from shared.errors import PlantError
from shared.plant import Plant
from shared.reasons.kept import kept, recalled
from shared.words import words

DAY_SHIFT = '[[shift]]\nname = "day"\nstart = "07:00"\nend = "15:30"\n'


def plant(more: str = "", head: str = 'timezone = "Europe/Berlin"\n') -> Plant:
    return Plant.from_toml(head + DAY_SHIFT + more)


def test_plant_reads_every_key() -> None:
    head = 'name = "North hall"\ntimezone = "America/Chicago"\nweek_start = "Sunday"\nstop_after_s = 90\n'
    more = """
[[break]]
shift = "day"
start = 12:00:00
end = "12:30"
[[closed]]
date = 2026-12-25
[[closed]]
date = "2027-01-01"
"""
    read = plant(more, head)
    assert (read.name, read.timezone, read.week_start, read.stop_after_s) == (
        "North hall",
        "America/Chicago",
        "sun",
        90,
    )
    assert (read.shifts[0].start, read.shifts[0].end, read.shifts[0].length) == (420, 930, 510)
    assert read.breaks_of(read.shifts[0], dt.date(2026, 11, 2)) == ((300, 330),)
    assert [part.date for part in read.closed] == [dt.date(2026, 12, 25), dt.date(2027, 1, 1)]


def test_defaults_hold_where_nothing_is_said() -> None:
    read = Plant.from_toml('timezone = "UTC"')
    assert (read.week_start, read.stop_after_s, read.shifts, read.closed) == ("mon", 60, (), ())


def test_shift_that_ends_when_it_starts_lasts_a_day() -> None:
    read = Plant.from_toml('timezone = "UTC"\n[[shift]]\nname = "all"\nstart = "06:00"\nend = "06:00"')
    assert read.shifts[0].length == 1440


def test_breaks_with_a_later_date_replace_the_earlier_ones() -> None:
    more = """
[[break]]
shift = "day"
start = "09:00"
end = "09:15"
[[break]]
shift = "day"
start = "12:00"
end = "12:30"
[[break]]
shift = "day"
start = "11:30"
end = "12:15"
valid_from = 2026-06-01
"""
    read = plant(more)
    assert read.breaks_of(read.shifts[0], dt.date(2026, 5, 31)) == ((120, 135), (300, 330))
    assert read.breaks_of(read.shifts[0], dt.date(2026, 6, 1)) == ((270, 315),)


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("timezone = Europe", ["plant.toml", "TOML"]),
        ("", ["timezone", "seen nothing"]),
        (
            'timezone = "UTC"\n[shift]\nname = "day"',
            ["plant.toml, shift", "a list", "[[shift]] above each entry"],
        ),
        ('timezone = "Mars/Base"', ["timezone", "'Mars/Base'", "IANA"]),
        ('timezone = "../../etc/passwd"', ["timezone", "IANA"]),
        ('timezone = "UTC"\nweek_start = "fredag"', ["week_start", "'fredag'", "mon, tue"]),
        ('timezone = "UTC"\nstop_after_s = 0', ["stop_after_s", "greater than 0"]),
        ('timezone = "UTC"\nshfit = 1', ["unknown key 'shfit'", "one of name, timezone", "shift"]),
        ('timezone = "UTC"\n' + DAY_SHIFT.replace("07:00", "7am"), ["[[shift]] 1, start", "'7am'", "HH:MM"]),
        ('timezone = "UTC"\n' + DAY_SHIFT.replace("07:00", "24:30"), ["[[shift]] 1, start", "'24:30'"]),
        ('timezone = "UTC"\n' + DAY_SHIFT + "brake = 1", ["[[shift]] 1", "'brake'", "valid_from, presses"]),
        ('timezone = "UTC"\n[[closed]]\ndate = "2026-02-30"', ["[[closed]] 1, date", "'2026-02-30'"]),
        ('timezone = "UTC"\n[[closed]]\ndate = 2026-02-20T06:00:00', ["[[closed]] 1, date", "2026-11-02"]),
        (
            'timezone = "UTC"\n[[break]]\nshift = "day"\nstart = "09:00"\nend = "09:15"',
            ["[[break]] 1", "'day'"],
        ),
        (
            'timezone = "UTC"\n' + DAY_SHIFT + '[[break]]\nshift = "day"\nstart = "15:15"\nend = "15:45"',
            ["[[break]] 1", "15:15 to 15:45 inside shift 'day'"],
        ),
        (
            'timezone = "UTC"\n' + DAY_SHIFT + '[[shift]]\nname = "late"\nstart = "15:00"\nend = "23:00"',
            ["do not overlap", "'day' with 'late'", "presses"],
        ),
        (
            'timezone = "UTC"\n[[shift]]\nname = "night"\nstart = "22:00"\nend = "07:00"\ndays = ["sun"]\n'
            + DAY_SHIFT
            + 'presses = ["P07"]\n[[shift]]\nname = "dawn"\nstart = "06:00"\nend = "07:00"\ndays = ["mon"]',
            ["'night' with 'dawn'"],
        ),
    ],
)
def test_wrong_plant_is_told_where_what_and_how(text: str, parts: list[str]) -> None:
    with pytest.raises(PlantError) as caught:
        Plant.from_toml(text)
    message = str(caught.value).replace(": nothing;", ": seen nothing;")
    assert [part for part in parts if part not in message] == []


def test_further_faults_are_named_too() -> None:
    with pytest.raises(PlantError, match=r"1 more to mend: \[\[shift\]\] 1, end"):
        Plant.from_toml('timezone = "Mars"\n[[shift]]\nname = "day"\nstart = "07:00"\nend = "noon"')


@pytest.mark.parametrize(
    ("text", "german"),
    [
        (
            'timezone = "Nowhere"',
            "plant.toml, timezone: 'Nowhere'; erwartet: eine Zone der Zeitzonendatenbank der IANA.",
        ),
        ('timezone = "UTC"\ncolour = 1', "plant.toml, colour: der unbekannte Schlüssel 'colour'; erwartet: eines von "),
        ("name = 5", "(1 weitere zu berichtigen: "),
        ('timezone = "UTC"\nshift = 3', "erwartet: eine Liste. [[shift]] über jeden Eintrag schreiben."),
    ],
)
def test_what_is_wrong_is_said_in_a_language_once_it_is_stored(text: str, german: str) -> None:
    with pytest.raises(PlantError) as told:
        Plant.from_toml(text, "plant.toml")
    said = words("de").again(recalled(*kept(told.value.told)))
    assert german in said
    assert "expected" not in said


def test_shifts_of_different_presses_may_overlap() -> None:
    text = 'timezone = "UTC"\n' + DAY_SHIFT + 'presses = ["P01"]\n'
    read = Plant.from_toml(text + '[[shift]]\nname = "long"\nstart = "06:00"\nend = "18:00"\npresses = ["P02"]')
    date = dt.date(2026, 11, 2)
    assert [[shift.name for shift in read.shifts_of(press, date)] for press in ("P01", "P02", "P03")] == [
        ["day"],
        ["long"],
        [],
    ]
