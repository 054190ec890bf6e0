import numpy as np
import pytest

from monitor.reckoning.statistics.chart_constants import chart_constants
from monitor.reckoning.statistics.measured_charts import individuals_chart, subgroup_chart


def test_a_short_subgroup_has_wider_limits_of_its_own():
    rows = [[1.0, 2.0, 3.0], [2.0, 3.0, np.nan], [2.0, 2.0, 4.0]]
    chart = subgroup_chart(rows)
    expected = np.mean([2 / chart_constants(3).d2, 1 / chart_constants(2).d2, 2 / chart_constants(3).d2])
    assert chart.sd_within == pytest.approx(expected)
    assert chart.location.high[1] - chart.location.centre[1] == pytest.approx(3 * expected / np.sqrt(2))
    assert chart.location.centre[0] == pytest.approx(19 / 8)


def test_rows_without_a_pair_are_left_out():
    chart = subgroup_chart([[1.0, 2.0], [5.0, np.nan], [1.5, 2.5]])
    assert chart.location.value.tolist() == [1.5, 2.0]
    with pytest.raises(ValueError, match="two values"):
        subgroup_chart([[1.0, np.nan]])


@pytest.mark.parametrize("spread", ["range", "sd"])
def test_freedom_is_that_of_the_scatter_of_sd_within(spread):
    rng = np.random.default_rng(3)
    charts = [subgroup_chart(rng.normal(size=(12, 4)), spread) for _ in range(1500)]
    scatter = np.std([chart.sd_within for chart in charts])
    assert 1 / (2 * scatter**2) == pytest.approx(charts[0].freedom, rel=0.12)


def test_freedom_of_moving_ranges_is_that_of_their_scatter():
    rng = np.random.default_rng(4)
    charts = [individuals_chart(rng.normal(size=30)) for _ in range(2000)]
    scatter = np.std([chart.sd_within for chart in charts])
    assert 1 / (2 * scatter**2) == pytest.approx(charts[0].freedom, rel=0.12)


def test_a_wild_subgroup_makes_the_process_unstable():
    quiet = np.tile([1.0, 1.2, 0.9, 1.1], (20, 1))
    assert subgroup_chart(quiet).stable
    quiet[7] += 1.0
    assert not subgroup_chart(quiet).stable


def test_single_values_skip_missing_ones():
    chart = individuals_chart([1.0, np.nan, 2.0, 4.0])
    assert chart.spread.value.tolist() == [1.0, 2.0]
    with pytest.raises(ValueError, match="at least two"):
        individuals_chart([1.0])
