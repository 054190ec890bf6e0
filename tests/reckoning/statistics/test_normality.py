"""Shapiro and Wilk's test against scipy's, over sizes, shapes and scales."""

import numpy as np
import pytest
from scipy import stats

from monitor.reckoning.statistics.normality import LEAST, MOST, shapiro_wilk

SHAPES = {
    "normal": lambda rng, n: rng.normal(10, 0.1, n),
    "skew": lambda rng, n: rng.lognormal(0, 0.7, n),
    "flat": lambda rng, n: rng.uniform(0, 1e-6, n),
    "heavy": lambda rng, n: rng.standard_t(2, n),
    "steps": lambda rng, n: np.round(rng.normal(0, 1, n), 1),
}


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("n", [LEAST, 9, 11, 12, 25, 26, 99, 500, MOST])
def test_w_and_chance_are_those_of_scipy(shape, n):
    values = SHAPES[shape](np.random.default_rng(n), n)
    expected = stats.shapiro(values)
    w, chance = shapiro_wilk(values)
    assert w == pytest.approx(expected.statistic, abs=1e-6)
    assert chance == pytest.approx(expected.pvalue, abs=1e-5)


def test_a_far_point_among_few_is_as_good_as_impossible():
    assert shapiro_wilk([0, 0, 0, 0, 0, 0, 0, 1e9])[1] < 1e-5


@pytest.mark.parametrize("values", [range(LEAST - 1), [5.0] * 20, range(MOST + 1)])
def test_too_few_too_many_or_all_the_same_are_refused(values):
    with pytest.raises(ValueError, match="expected 8 to 5000"):
        shapiro_wilk(values)
