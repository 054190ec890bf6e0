import datetime as dt

import numpy as np

from monitor.intake.clock import to_instants
from shared.calendar import Calendar
from shared.plant import Plant

HOUR_US = 3_600_000_000


def night_hours(zone, date, start, end):
    """Length of the night shift that starts on a date [h]."""
    shift = f'[[shift]]\nname = "night"\nstart = "{start}"\nend = "{end}"\n'
    calendar = Calendar(Plant.from_toml(f'timezone = "{zone}"\n{shift}'))
    noon_us = calendar.wall_us(dt.date.fromisoformat(date), 12 * 60)
    (night,) = calendar.shifts("P01", noon_us, noon_us + 12 * HOUR_US)
    assert night.shift_date.isoformat() == date
    return (night.end_us - night.start_us) / HOUR_US


def wall(*texts):
    return np.array(texts, dtype="datetime64[us]").astype(np.int64)


def test_night_shifts_at_clock_changes(published):
    figure = published("TM-01")  # IANA time zone database
    given = figure.inputs
    figure.agrees("hours", [night_hours(zone, date, given["start"], given["end"]) for zone, date in given["nights"]])


def test_wall_times_that_happen_twice_or_never(published):
    figure = published("TM-01")  # IANA time zone database
    given = figure.inputs
    found = to_instants(wall(given["twice"], given["never"]), given["zone"])
    assert found.twice.tolist() == [True, False]
    assert found.never.tolist() == [False, True]
    assert [found.us[0], found.later_us[0]] == list(wall(figure.expected["first"], figure.expected["second"]))
