import numpy as np
import pytest

from monitor.reckoning.pieces.pace import Hours, hours_left, moment_after

HOUR = 3_600_000_000


def test_an_even_pace_leaves_no_doubt() -> None:
    assert hours_left(500, [100, 100, 50, 100], [1, 1, 0.5, 2]) is not None
    assert hours_left(500, [100] * 5, [1] * 5) == Hours(5, 5, 5)


def test_too_little_to_go_by() -> None:
    assert hours_left(500, [100, 100], [1, 1]) is None
    assert hours_left(500, [0] * 8, [1] * 8) is None


def test_what_is_made_takes_no_time() -> None:
    assert hours_left(-20, [90, 110, 100, 100], [1] * 4) == Hours(0, 0, 0)


def test_the_interval_holds_the_end_about_as_often_as_it_says() -> None:
    draw = np.random.default_rng(11)
    held = 0
    for _ in range(400):
        past, future = draw.gamma(4, 25, 16), draw.gamma(4, 25, 60)
        needed = float(np.interp(900, np.cumsum(future), np.arange(1, 61)))
        told = hours_left(900, past, np.ones(16))
        assert told is not None
        held += told.low <= needed <= told.high
    assert held / 400 == pytest.approx(0.95, abs=0.03)


def test_hours_pass_in_open_time_only() -> None:
    shifts = [(0, 8 * HOUR), (10 * HOUR, 12 * HOUR)]
    assert moment_after(2, HOUR, shifts) == 3 * HOUR
    assert moment_after(8, HOUR, shifts) == 11 * HOUR
    assert moment_after(0, 9 * HOUR, shifts) == 10 * HOUR
    assert moment_after(10, HOUR, shifts) is None
