import numpy as np
import pytest

from monitor.reckoning.statistics.multiplicity import benjamini_hochberg, holm


def test_looks_that_were_not_kept_still_count():
    p = np.array([0.02, 0.0004])
    np.testing.assert_allclose(benjamini_hochberg(p, looks=50), benjamini_hochberg(np.r_[p, np.ones(48)])[:2])
    assert benjamini_hochberg([0.01], looks=4)[0] == pytest.approx(0.04)


def test_fewer_looks_than_values_are_refused():
    with pytest.raises(ValueError, match="at least as many"):
        benjamini_hochberg([0.1, 0.2], looks=1)


def test_adjusted_values_stay_in_order_and_within_one():
    p = np.array([0.5, 0.001, 0.04, 0.9, 0.03])
    for adjusted in (benjamini_hochberg(p), holm(p)):
        assert (adjusted >= p).all()
        assert adjusted.max() <= 1
        np.testing.assert_array_equal(np.argsort(adjusted, kind="stable")[:1], [1])
    np.testing.assert_allclose(holm([0.01, 0.04, 0.03]), [0.03, 0.06, 0.06])


def test_nothing_looked_at():
    assert benjamini_hochberg([]).size == 0
    assert holm([]).size == 0
