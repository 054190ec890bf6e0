import datetime as dt

import numpy as np

from monitor.figures.customer.weeks import days_of, week_of
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


def test_weeks_at_the_turn_of_the_year(published):
    figure = published("TM-02")  # ISO 8601
    dates = [dt.date.fromisoformat(text) for text in figure.inputs["dates"]]
    weeks = [week_of(date, "mon") for date in dates]
    assert weeks == figure.expected["week"]
    figure.agrees("day", [(date - days_of(week, "mon")[0]).days + 1 for date, week in zip(dates, weeks, strict=True)])


def test_years_of_fifty_two_and_of_fifty_three_weeks(published):
    figure = published("TM-02")  # ISO 8601
    # The 28th of December lies in the last week of its year.
    last = [week_of(dt.date(year, 12, 28), "mon") for year in figure.inputs["years"]]
    figure.agrees("weeks_in_year", [int(week[-2:]) for week in last])
