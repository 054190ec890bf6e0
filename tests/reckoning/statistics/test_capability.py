import numpy as np
import pytest

from monitor.reckoning.statistics.capability import achieved, capability, potential


def test_a_drifting_process_has_a_worse_ppk_than_cpk():
    rng = np.random.default_rng(1)
    rows = rng.normal(10.0, 0.1, (30, 5)) + np.linspace(-0.4, 0.4, 30)[:, None]
    found = capability(rows, 9.0, 11.0)
    assert found.stable is False
    assert found.ppk.value < 0.6 * found.cpk.value
    assert found.n == 150
    assert found.subgroups == 30


def test_a_missing_limit_leaves_only_the_side_that_is_there():
    rows = np.array([[1.0, 1.1], [0.9, 1.0], [1.05, 0.95]])
    found = capability(rows, upper=1.6)
    assert np.isnan(found.cp.value)
    assert found.cpk.value == pytest.approx((1.6 - rows.mean()) / (3 * found.sd_within))
    assert np.isnan(capability(rows).cpk.value)


def test_single_values_are_judged_by_moving_ranges():
    found = capability([1.0, 1.2, 0.9, 1.1], 0.0, 2.0)
    assert found.sd_within == pytest.approx(np.mean([0.2, 0.3, 0.2]) / 1.12838, rel=1e-4)
    assert found.subgroups == 4
    assert found.normal is None


def test_normality_note():
    rng = np.random.default_rng(2)
    assert capability(rng.normal(size=(25, 5)), -5.0, 5.0).normal is True
    assert capability(rng.exponential(size=(25, 5)), -5.0, 5.0).normal is False
    two_outs = np.concatenate([rng.normal(0, 0.1, (12, 5)), rng.normal(1, 0.1, (12, 5))])
    assert capability(two_outs, -5.0, 5.0).normal is False


def test_long_series_are_thinned_for_the_normality_note():
    rng = np.random.default_rng(6)
    assert capability(rng.normal(size=(3000, 4)), -5.0, 5.0).normal is True


def test_no_spread_has_no_index():
    found = capability(np.ones((5, 3)), 0.0, 2.0)
    assert np.isnan(found.cp.value)
    assert np.isnan(found.cpk.low)
    assert found.normal is None


def test_limits_the_wrong_way_round_are_refused():
    with pytest.raises(ValueError, match="lower < upper"):
        capability([[1.0, 2.0]], 3.0, 1.0)


def test_intervals_cover_as_often_as_they_say():
    rng = np.random.default_rng(8)
    rows = rng.normal(0.3, 1.0, (800, 20, 5))
    cps, cpks = [], []
    for sample in rows:
        found = capability(sample, -4.0, 4.0)
        cps.append(found.cp.low <= 8 / 6 <= found.cp.high)
        cpks.append(found.cpk.low <= 3.7 / 3 <= found.cpk.high)
    assert np.mean(cps) == pytest.approx(0.95, abs=0.025)
    assert np.mean(cpks) == pytest.approx(0.95, abs=0.025)


def test_indices_of_given_numbers():
    assert potential(-3.0, 3.0, 1.0, 99).value == pytest.approx(1.0)
    assert achieved(-3.0, 6.0, mean=0.0, sd=1.0, n=100, freedom=99).value == pytest.approx(1.0)
    assert np.isnan(potential(-3.0, 3.0, np.nan, 99).value)
