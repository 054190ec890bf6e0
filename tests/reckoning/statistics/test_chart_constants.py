import numpy as np
import pytest

from monitor.reckoning.statistics.chart_constants import chart_constants


def test_constants_of_two_and_three_values_are_known_in_closed_form():
    assert chart_constants(2).d2 == pytest.approx(2 / np.sqrt(np.pi), abs=1e-9)
    assert chart_constants(3).d2 == pytest.approx(3 / np.sqrt(np.pi), abs=1e-9)
    assert chart_constants(2).d3 == pytest.approx(np.sqrt(2 - 4 / np.pi), abs=1e-8)
    assert chart_constants(2).c4 == pytest.approx(np.sqrt(2 / np.pi), abs=1e-12)


def test_large_subgroups_agree_with_counting():
    rng = np.random.default_rng(5)
    ranges = np.ptp(rng.normal(size=(20000, 50)), axis=1)
    assert chart_constants(50).d2 == pytest.approx(ranges.mean(), abs=0.02)
    assert chart_constants(50).d3 == pytest.approx(ranges.std(), abs=0.02)


@pytest.mark.parametrize("n", [1, 101])
def test_sizes_without_constants_are_refused(n):
    with pytest.raises(ValueError, match="2 to 100"):
        chart_constants(n)
