import numpy as np
import pytest

from monitor.reckoning.statistics.count_charts import c_chart, laney_u_chart, np_chart, p_chart, u_chart


def test_nothing_inspected_is_never_a_signal():
    chart = p_chart([2, 0, 3], [100, 0, 80])
    assert np.isnan(chart.value[1])
    assert not chart.outside.any()
    assert chart.centre[0] == pytest.approx(5 / 180)


def test_all_pieces_missing_gives_no_centre():
    chart = u_chart([0, 0], [0, 0])
    assert np.isnan(chart.centre).all()
    assert not chart.outside.any()


def test_a_share_on_its_limit_does_not_differ_by_rounding():
    chart = p_chart([10, 10], [100, 100], share=0.1, sigmas=0.0)
    assert not chart.outside.any()
    assert p_chart([11, 10], [100, 100], share=0.1, sigmas=0.0).outside.tolist() == [True, False]


def test_a_share_limit_stays_below_one():
    assert p_chart([4, 5], [5, 5]).high.max() == 1.0


@pytest.mark.parametrize("chart", [p_chart, np_chart])
def test_more_rejected_than_inspected_is_refused(chart):
    with pytest.raises(ValueError, match="between 0 and inspected"):
        chart([3], [2])


def test_negative_faults_are_refused():
    with pytest.raises(ValueError, match="negative"):
        c_chart([1, -1])


def test_laney_u_equals_the_u_chart_times_its_factor():
    faults, units = [4, 9, 2, 8, 1, 11], [10.0, 12.0, 9.0, 10.0, 11.0, 12.0]
    wide, plain = laney_u_chart(faults, units), u_chart(faults, units)
    z = plain.standardised
    assert wide.spread_factor == pytest.approx(np.abs(np.diff(z)).mean() / 1.128, rel=1e-3)
    np.testing.assert_allclose(wide.sigma, plain.sigma * wide.spread_factor)


def test_one_point_alone_is_not_widened():
    assert laney_u_chart([3], [4.0]).spread_factor == 1.0
