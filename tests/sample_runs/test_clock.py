"""Shifts, breaks and plant days of the simulator around the autumn clock change."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

import numpy as np

from sample_runs.simulate import clock
from sample_runs.simulate.book import PlannedBreak, PlannedShift, PlantPlan
from sample_runs.simulate.clock import plant_day, plant_day_start_s, timeline, wall_s, windows

BERLIN = ZoneInfo("Europe/Berlin")
NIGHT = PlannedShift("Night", "22:00", "06:00", clock.DAY_NAMES)
EARLY = PlannedShift("Early", "06:00", "14:00", ("mon", "tue", "wed", "thu", "fri"), ("P1",))
BOOK = PlantPlan(
    "Test",
    "Europe/Berlin",
    stop_after_s=60,
    shifts=(EARLY, NIGHT),
    breaks=(PlannedBreak("Night", "01:00", "01:30"),),
    presses=(),
    dies=(),
    parts=(),
    densities_kg_m3={},
    closed=("2026-10-26",),
)


def test_the_night_of_the_autumn_change_is_nine_hours_and_that_of_the_spring_change_seven() -> None:
    for day, hours in ((date(2026, 10, 24), 9), (date(2026, 10, 23), 8), (date(2026, 3, 28), 7)):
        start = wall_s(day, "22:00", BERLIN)
        (night,) = windows(BOOK, "P2", start, start + 3600)
        assert (night.shift_date, night.end_s - night.start_s) == (day, hours * 3600)


def test_a_break_after_midnight_lies_in_the_night_that_began_the_day_before() -> None:
    start = wall_s(date(2026, 10, 20), "22:00", BERLIN)
    (night,) = windows(BOOK, "P2", start, start + 3600)
    assert night.breaks == ((start + 3 * 3600, start + 3 * 3600 + 1800),)


def test_a_shift_is_only_for_the_presses_it_names() -> None:
    start = wall_s(date(2026, 10, 20), "06:00", BERLIN)
    assert [window.shift for window in windows(BOOK, "P1", start, start + 60)] == ["Early"]
    assert windows(BOOK, "P2", start, start + 60) == []


def test_a_plant_day_starts_with_the_earliest_shift() -> None:
    start = wall_s(date(2026, 10, 20), "06:00", BERLIN)
    assert plant_day_start_s(BOOK, date(2026, 10, 20)) == start
    assert plant_day(BOOK, start) == date(2026, 10, 20)
    assert plant_day(BOOK, start - 1) == date(2026, 10, 19)


def test_a_timeline_paints_shift_break_closed_day_and_unplanned_time() -> None:
    start = wall_s(date(2026, 10, 26), "06:00", BERLIN)
    line = timeline(BOOK, "P1", start, start + 24 * 3600)
    hour = np.arange(24) * 3600
    named = [line.names[index] for index in line.shift_of[hour]]
    assert named == [("2026-10-26", "Early")] * 8 + [("2026-10-26", "")] * 8 + [("2026-10-26", "Night")] * 8
    assert not line.planned.any()
    next_day = timeline(BOOK, "P1", start + 24 * 3600, start + 48 * 3600)
    assert next_day.planned.sum() == 16 * 3600 - 1800


def test_a_clock_hour_starts_on_the_plants_hour_also_where_zones_are_half_an_hour_off() -> None:
    second = wall_s(date(2026, 2, 2), "10:47", ZoneInfo("Asia/Kolkata"))
    assert clock.hour_starts_s("Asia/Kolkata", np.array([second])).tolist() == [second - 47 * 60]
