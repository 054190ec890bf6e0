import numpy as np
import pytest
from scipy import stats

from monitor.reckoning.statistics.intervals import (
    agresti_coull,
    clopper_pearson,
    poisson_exact,
    share_bound_without_rejects,
    wilson,
)

SHARES = [wilson, clopper_pearson, agresti_coull]


@pytest.mark.parametrize("interval", SHARES)
def test_nothing_inspected_is_not_known(interval):
    low, high = interval([0, 1], [0, 10])
    assert np.isnan(low[0])
    assert np.isnan(high[0])
    assert 0 <= low[1] < 0.1 < high[1] <= 1


@pytest.mark.parametrize("interval", SHARES)
def test_counts_keep_their_shape_and_mirror(interval):
    rejected = np.array([[0, 3], [10, 25]])
    low, high = interval(rejected, 50)
    low_of_good, high_of_good = interval(50 - rejected, 50)
    assert low.shape == (2, 2)
    np.testing.assert_allclose(high, 1 - low_of_good, atol=1e-12)
    np.testing.assert_allclose(low, 1 - high_of_good, atol=1e-12)


@pytest.mark.parametrize("interval", SHARES)
def test_impossible_counts_are_refused(interval):
    with pytest.raises(ValueError, match="between 0 and inspected"):
        interval([3], [2])
    with pytest.raises(ValueError, match="between 0 and 1"):
        interval([1], [2], confidence=95)


def test_ends_are_exact_at_no_and_all_rejected():
    for interval in (wilson, clopper_pearson):
        low, high = interval([0, 7], [7, 7])
        assert low[0] == 0
        assert high[1] == 1


def test_exact_interval_never_covers_less_than_it_says():
    n, share = 40, np.linspace(0.01, 0.99, 99)
    counts = np.arange(n + 1)
    low, high = clopper_pearson(counts, n)
    chance = stats.binom.pmf(counts[:, None], n, share)
    covers = (low[:, None] <= share) & (share <= high[:, None])
    assert (chance * covers).sum(axis=0).min() >= 0.95


def test_poisson_interval_is_the_tail_probability():
    low, high = poisson_exact([0, 4], [2.0, 8.0])
    assert low[0] == 0
    assert stats.poisson.cdf(4, 8 * high[1]) == pytest.approx(0.025)
    assert stats.poisson.sf(3, 8 * low[1]) == pytest.approx(0.025)
    assert high[0] == pytest.approx(-np.log(0.025) / 2)


def test_poisson_interval_without_exposure_is_not_known():
    low, high = poisson_exact(0, 0.0)
    assert np.isnan(low)
    assert np.isnan(high)
    with pytest.raises(ValueError, match="negative"):
        poisson_exact(-1, 2.0)


def test_bound_without_rejects_is_the_one_sided_exact_interval():
    _, high = clopper_pearson(0, 60, confidence=0.9)
    assert share_bound_without_rejects(60) == pytest.approx(float(high))
    assert np.isnan(share_bound_without_rejects(0))
