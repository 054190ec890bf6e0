"""Clocks that jump within a file: named where they do, and nothing else is taken for one."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.reckoning.clocks.jumps import Jump, jumps

S_US = 1_000_000


def readings(seed: int = 0, count: int = 400) -> tuple[np.ndarray, np.ndarray]:
    """A reading a minute, about fifty strokes each, with a stop now and then."""
    dice = np.random.default_rng(seed)
    rise = dice.integers(45, 56, count)
    for start in range(60, count, 90):
        rise[start : start + 8] = 0
    return np.arange(count, dtype=np.int64) * 60 * S_US, np.cumsum(rise)


@pytest.mark.parametrize("by_s", [-180, -3600, -10, 180, 3600])
def test_jump_is_named_with_its_place_and_size(by_s: int) -> None:
    time_us, counter = readings()
    time_us[220:] += by_s * S_US
    if by_s == -10:  # Less than the time between two readings: time does not fall, and nothing shows it.
        assert jumps(time_us, counter) == []
        return
    assert jumps(time_us, counter) == [Jump(220, int(time_us[219]), int(time_us[220]), by_s * S_US)]


def test_jump_and_its_undoing_are_both_named() -> None:
    time_us, counter = readings()
    time_us[220:280] -= 300 * S_US
    assert [(jump.place, jump.by_us // S_US) for jump in jumps(time_us, counter)] == [(220, -300), (280, 300)]


@pytest.mark.parametrize("seed", range(10))
def test_what_is_no_jump_is_not_named(seed: int) -> None:
    time_us, counter = readings(seed)
    dice = np.random.default_rng(seed)
    assert jumps(time_us, counter) == []
    lost = np.sort(dice.choice(400, 380, replace=False))
    assert jumps(time_us[lost], counter[lost]) == []  # Rows that were lost bring the strokes of their time.
    shuffled = np.concatenate([np.arange(300, 400), np.arange(100, 300), np.arange(100)])
    assert jumps(time_us[shuffled], counter[shuffled]) == []  # Blocks in another order, and a file written twice.
    twice = np.concatenate([np.arange(250), np.arange(240, 400)])
    assert jumps(time_us[twice], counter[twice]) == []
    set_back = counter.copy()
    set_back[200:] -= set_back[200]
    assert jumps(time_us, set_back) == []


def test_logger_that_writes_nothing_while_the_press_stands_is_not_blamed() -> None:
    time_us, counter = readings()
    moving = np.concatenate([[True], np.diff(counter) > 0])
    assert jumps(time_us[moving], counter[moving]) == []


def test_too_few_readings() -> None:
    assert jumps(np.empty(0, np.int64), np.empty(0, np.int64)) == []
    assert jumps(np.array([5, 1]) * S_US, np.array([1, 2])) != []
    assert jumps(np.array([5, 5]) * S_US, np.array([1, 2])) == []
