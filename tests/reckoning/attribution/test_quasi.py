import numpy as np
import pytest

from monitor.reckoning.attribution.quasi import PRIOR_SD, fit_rates


def test_a_ratio_can_be_checked_by_hand():
    pieces, rejects = np.array([1000.0, 500.0]), np.array([20.0, 30.0])
    fit = fit_rates(np.array([[1.0, 0.0], [1.0, 1.0]]), rejects, pieces, np.ones(2), prior_sd=np.inf)
    assert np.exp(fit.coefficients[1]) == pytest.approx((30 / 500) / (20 / 1000))
    np.testing.assert_allclose(fit.expected, rejects, rtol=1e-6)


def test_few_rejects_are_shrunk_and_many_are_not():
    design = np.array([[1.0, 0.0], [1.0, 1.0]])
    few = fit_rates(design, np.array([20.0, 4.0]), np.array([10000.0, 500.0]), np.ones(2))
    many = fit_rates(design, np.array([2000.0, 400.0]), np.array([1e6, 5e4]), np.ones(2))
    assert 2.5 < np.exp(few.coefficients[1]) < 3.9
    assert np.exp(many.coefficients[1]) == pytest.approx(4.0, rel=0.01)


def test_shrinkage_does_not_depend_on_the_unit_of_a_column():
    strokes = np.array([0.0, 0.3, 0.7, 1.0])
    rejects, pieces = np.array([2.0, 3.0, 5.0, 8.0]), np.full(4, 400.0)
    one = fit_rates(np.column_stack([np.ones(4), strokes]), rejects, pieces, np.ones(4))
    thousands = fit_rates(np.column_stack([np.ones(4), strokes * 1000]), rejects, pieces, np.ones(4))
    np.testing.assert_allclose(one.expected, thousands.expected, rtol=1e-6)


def test_no_reject_in_a_level_stays_finite():
    design = np.array([[1.0, 0.0], [1.0, 1.0]])
    fit = fit_rates(design, np.array([50.0, 0.0]), np.array([1000.0, 1000.0]), np.ones(2))
    assert -4 * PRIOR_SD < fit.coefficients[1] < -1
    everything = fit_rates(design, np.array([500.0, 1000.0]), np.array([1000.0, 1000.0]), np.ones(2))
    assert np.isfinite(everything.expected).all()
    assert (everything.share < 1).all()
