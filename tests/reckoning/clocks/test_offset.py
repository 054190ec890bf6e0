"""A counter's clock against what was noted: found where it is off, with an interval that holds it, silent otherwise."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.reckoning.clocks.offset import Lag, lags, newest, standstills

S_US = 1_000_000
MINUTE_US = 60 * S_US


def run(seed: int, hours: int = 60, every_s: int = 20) -> tuple[np.ndarray, np.ndarray, list[tuple[int, ...]]]:
    """Readings of a press that runs and stands at random, and the stops as a person notes them: to the minute."""
    dice = np.random.default_rng(seed)
    time_us = np.arange(0, hours * 3600, every_s, dtype=np.int64) * S_US
    running, noted, at_s = np.ones(len(time_us), dtype=np.int64), [], 600
    while at_s < hours * 3600 - 3600:
        stood_s = int(dice.integers(120, 1500))
        running[(time_us > at_s * S_US) & (time_us <= (at_s + stood_s) * S_US)] = 0
        noted.append((at_s // 60 * MINUTE_US, -(-(at_s + stood_s) // 60) * MINUTE_US))
        at_s += stood_s + int(dice.integers(2400, 7200))
    return time_us, np.cumsum(running * 15), noted


def found(offset_s: int, seed: int = 1, noted: list[tuple[int, ...]] | None = None) -> list[Lag]:
    time_us, counter, told = run(seed)
    return lags(newest(told if noted is None else noted), time_us + offset_s * S_US, counter)


@pytest.mark.parametrize("seed", range(8))
def test_clock_that_is_right_is_not_named(seed: int) -> None:
    assert found(0, seed) == []
    assert found(20, seed) == []


@pytest.mark.parametrize("offset_s", [-3600, -185, 185, 600, 3600, 7200])
@pytest.mark.parametrize("seed", range(4))
def test_offset_is_found_and_lies_in_its_interval(seed: int, offset_s: int) -> None:
    [lag] = found(offset_s, seed)
    assert lag.low_us <= offset_s * S_US <= lag.high_us
    assert lag.low_us <= lag.offset_us <= lag.high_us
    assert lag.high_us - lag.low_us <= 240 * S_US
    assert lag.notes >= 20


def test_clock_that_was_set_wrong_in_between_is_found_from_then_on() -> None:
    time_us, counter, noted = run(3, hours=100)
    half = len(time_us) // 2
    moved = time_us + np.where(np.arange(len(time_us)) >= half, -300 * S_US, 0)
    keep = np.concatenate([[True], np.diff(np.maximum.accumulate(moved)) > 0])
    [lag] = lags(newest(noted), moved[keep], counter[keep])
    assert lag.low_us <= -300 * S_US <= lag.high_us
    assert abs(lag.since_us - int(time_us[half])) < 4 * 3600 * S_US


def test_sloppy_notes_are_not_blamed_on_the_clock() -> None:
    for seed in range(12):
        dice = np.random.default_rng(100 + seed)
        noted = [tuple(us + int(dice.normal(0, 150)) * S_US for us in moments) for moments in run(seed)[2]]
        assert found(0, seed, noted) == []


def test_notes_of_another_press_show_nothing() -> None:
    for seed in range(12):
        assert found(0, seed, run(seed + 50)[2]) == []


def test_too_few_notes_show_nothing() -> None:
    assert found(-600, noted=run(1)[2][:5]) == []
    assert found(-600, noted=[]) == []
    assert lags(newest([(1,), (2,)]), np.empty(0, np.int64), np.empty(0, np.int64)) == []


def test_notes_close_together_count_once_and_only_the_newest_are_looked_at() -> None:
    assert newest([(5,), (1, 3), (1_800 * S_US + 1,)]) == [(1, 3, 5), (1_800 * S_US + 1,)]
    many = newest([(number * 3600 * S_US,) for number in range(200)])
    assert (len(many), many[-1]) == (80, (199 * 3600 * S_US,))


def test_press_may_have_stood_in_a_gap_between_readings() -> None:
    time_us = np.array([0, 10, 20, 30, 130, 140, 150], dtype=np.int64)
    counter = np.array([0, 5, 5, 10, 90, 95, 100], dtype=np.int64)
    starts_us, ends_us, every_us = standstills(time_us, counter)
    assert (starts_us.tolist(), ends_us.tolist(), every_us) == ([10, 30], [20, 130], 10)
