import numpy as np
import pytest

from monitor.reckoning.statistics.run_rules import NELSON, WESTERN_ELECTRIC, average_run_length, signals


def test_the_point_that_fires_is_part_of_the_pattern():
    fired = signals([2.5, 0.1, 2.5, 0.1], WESTERN_ELECTRIC)["Western Electric 2"]
    assert fired.tolist() == [False, False, True, False]


def test_two_points_on_different_sides_are_no_pattern():
    assert not signals([2.5, -2.5], WESTERN_ELECTRIC)["Western Electric 2"].any()


def test_a_missing_point_breaks_an_unbroken_run():
    z = np.full(16, 0.4)
    assert signals(z, WESTERN_ELECTRIC)["Western Electric 4"].sum() == 9
    z[7] = np.nan
    assert signals(z, WESTERN_ELECTRIC)["Western Electric 4"].sum() == 1


def test_fewer_points_than_a_pattern_needs_never_fire():
    assert not any(fired.any() for fired in signals([0.1, 0.2], NELSON).values())
    assert all(fired.size == 0 for fired in signals([], NELSON).values())


def test_run_length_agrees_with_counting():
    rng = np.random.default_rng(11)
    z = rng.normal(1.0, 1.0, (2000, 60))
    firsts = []
    for row in z:
        fired = np.any(list(signals(row, WESTERN_ELECTRIC).values()), axis=0)
        firsts.append(np.argmax(fired) + 1 if fired.any() else 60)
    exact = average_run_length(WESTERN_ELECTRIC, shift=1.0)
    assert np.mean(firsts) == pytest.approx(exact, abs=4 * np.std(firsts) / np.sqrt(2000))


def test_run_length_refuses_other_patterns():
    with pytest.raises(ValueError, match="one side only"):
        average_run_length(NELSON)
