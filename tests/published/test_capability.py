import numpy as np
import pytest

from monitor.reckoning.statistics.capability import achieved, capability, potential
from monitor.reckoning.statistics.chart_constants import chart_constants
from monitor.reckoning.statistics.measured_charts import individuals_chart, subgroup_chart


def test_chart_constants(published):
    figure = published("CC-01")  # ASTM MNL 7; ISO 7870-2:2013 Table 2
    constants = [chart_constants(n) for n in figure.inputs["n"]]
    figure.agrees("d2", [c.d2 for c in constants])
    figure.agrees("d3", [c.d3 for c in constants])
    figure.agrees("c4", [c.c4 for c in constants])
    figure.agrees("A2", [c.a2 for c in constants])
    figure.agrees("A3", [c.a3 for c in constants])
    figure.agrees("D3", [c.range_limits[0] for c in constants])
    figure.agrees("D4", [c.range_limits[1] for c in constants])
    figure.agrees("B3", [c.sd_limits[0] for c in constants])
    figure.agrees("B4", [c.sd_limits[1] for c in constants])


def test_means_with_ranges_and_with_standard_deviations(published):
    figure = published("VC-01")  # Montgomery (1991), pp. 206-213: piston rings
    ranges = subgroup_chart(figure.inputs["phase1"])
    figure.agrees("xbarbar", ranges.location.centre[0])
    figure.agrees("rbar", ranges.spread.value.mean())
    # A2 = 0.577 in the published limits, 0.57682 integrated: 4e-6 on the limit.
    assert ranges.location.high[0] == pytest.approx(figure.expected["ucl_x"], abs=1e-5)
    assert ranges.location.low[0] == pytest.approx(figure.expected["lcl_x"], abs=1e-5)
    # The published limit uses D4 = 2.114; integrated it is 2.1145, which moves the limit by 1.2e-5.
    assert ranges.spread.high[0] == pytest.approx(figure.expected["ucl_r"], abs=2e-5)
    deviations = subgroup_chart(figure.inputs["phase1"], "sd")
    figure.agrees("sbar", deviations.spread.value.mean())
    figure.agrees("ucl_x_s", deviations.location.high[0])
    figure.agrees("lcl_x_s", deviations.location.low[0])
    figure.agrees("ucl_s", deviations.spread.high[0])
    later = np.mean(figure.inputs["phase2"], axis=1)
    assert list(np.flatnonzero(later > ranges.location.high[0]) + 1) == figure.expected["phase2_above_1based"]


def test_cp_and_cpk_from_the_mean_range(published):
    figure = published("VC-02")  # Montgomery (1991), pp. 206-213
    rings = published("VC-01").inputs["phase1"]
    found = capability(rings, figure.inputs["lsl"], figure.inputs["usl"])
    # Integrated d2 is 2.32593 where the published figure uses 2.326.
    assert found.sd_within == pytest.approx(figure.expected["sigma"], abs=1.5e-6)
    figure.agrees("cp", found.cp.value)
    figure.agrees("cpk", found.cpk.value)
    assert found.stable


def test_one_sided_indices(published):
    figure = published("VC-03")  # NIST/SEMATECH e-Handbook 6.1.6
    given = figure.inputs
    low, high, mean, sd = given["lsl"], given["usl"], given["mean"], given["s"]
    figure.agrees("cp", potential(low, high, sd, 50).value)
    figure.agrees("cpk", achieved(low, high, mean=mean, sd=sd, n=50, freedom=49).value)
    figure.agrees("cpu", achieved(np.nan, high, mean=mean, sd=sd, n=50, freedom=49).value)
    figure.agrees("cpl", achieved(low, np.nan, mean=mean, sd=sd, n=50, freedom=49).value)


def test_interval_of_cp(published):
    figure = published("VC-04")  # Montgomery (6th ed., 2009)
    given = figure.inputs
    found = potential(given["lsl"], given["usl"], given["s"], given["n"] - 1, given["conf"])
    figure.agrees("cp", found.value)
    figure.agrees("lo", found.low)
    figure.agrees("hi", found.high)


def test_interval_of_cpk(published):
    figure = published("VC-05")  # Bissell (1990)
    found = [
        achieved(case["lsl"], case["usl"], mean=case["mean"], sd=case["s"], n=case["n"], freedom=case["n"] - 1)
        for case in figure.inputs["cases"]
    ]
    figure.agrees("cpk", [index.value for index in found])
    figure.agrees("lo", [index.low for index in found])
    figure.agrees("hi", [index.high for index in found])


def test_single_values_with_moving_ranges(published):
    figure = published("VC-06")  # NIST/SEMATECH e-Handbook 6.3.2.2
    chart = individuals_chart(figure.inputs["x"])
    figure.agrees("mean", chart.location.centre[0])
    figure.agrees("mrbar", chart.spread.centre[0])
    # d2 = 1.128 in the published limits, 1.12838 integrated: 1.7e-3 on the limit.
    assert chart.location.high[0] == pytest.approx(figure.expected["ucl"], abs=2e-3)
    assert chart.location.low[0] == pytest.approx(figure.expected["lcl"], abs=2e-3)
