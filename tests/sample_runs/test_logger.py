"""What the counter logger of the simulator reads, misses and gets wrong."""

from __future__ import annotations

import pytest

from sample_runs.simulate.book import PressSetup
from sample_runs.simulate.logger import LoggerHabits, read
from sample_runs.simulate.press import NO_STRIP, Era, Played


def played(*seconds: int, dry: int = 0) -> Played:
    strokes = Played([Era("", "", "", False)], [0])
    for number, second in enumerate(seconds):
        strokes.stroke_s.append(second)
        strokes.stroke_mounting.append(NO_STRIP if number < dry else 0)
    return strokes


EVERY_SECOND = played(*range(1, 41))


def test_a_reading_holds_the_strokes_up_to_and_in_its_second() -> None:
    readings = read(PressSetup("P1", 60), EVERY_SECOND, LoggerHabits(10, always_s=[7], start_counter=100), 0, 40)
    assert readings.time_s.tolist() == [0, 7, 10, 20, 30, 40]
    assert readings.counter.tolist() == [100, 107, 110, 120, 130, 140]


def test_a_counter_returns_to_0_at_its_modulus() -> None:
    readings = read(
        PressSetup("P1", 60, counter_modulus=1000), EVERY_SECOND, LoggerHabits(20, start_counter=985), 0, 40
    )
    assert readings.counter.tolist() == [985, 5, 25]
    assert readings.true_strokes.tolist() == [0, 20, 40]


def test_a_counter_set_back_starts_again_right_after_the_reading() -> None:
    readings = read(PressSetup("P1", 60), EVERY_SECOND, LoggerHabits(10, start_counter=500, resets=[20]), 0, 40)
    assert readings.counter.tolist() == [500, 510, 520, 10, 20]


def test_a_glitch_spoils_one_reading_only() -> None:
    readings = read(PressSetup("P1", 60), EVERY_SECOND, LoggerHabits(10, glitches={20: 9000}), 0, 40)
    assert readings.counter.tolist() == [0, 10, 9020, 30, 40]
    assert readings.glitch.tolist() == [False, False, True, False, False]


def test_a_gap_loses_the_readings_inside_but_never_one_that_must_be_there() -> None:
    readings = read(PressSetup("P1", 60), EVERY_SECOND, LoggerHabits(5, gaps=[(10, 30)]), 0, 40)
    assert readings.time_s.tolist() == [0, 5, 10, 30, 35, 40]
    with pytest.raises(ValueError, match="must be there"):
        read(PressSetup("P1", 60), EVERY_SECOND, LoggerHabits(5, always_s=[20], gaps=[(10, 30)]), 0, 40)


def test_feeds_count_only_strokes_with_strip() -> None:
    readings = read(PressSetup("P1", 60, feeds=True), played(*range(1, 41), dry=15), LoggerHabits(10), 0, 40)
    assert readings.feeds is not None
    assert readings.feeds.tolist() == [0, 0, 5, 15, 25]
