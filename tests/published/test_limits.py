import numpy as np
import pytest

from monitor.reckoning.statistics import count_charts as limits
from monitor.reckoning.statistics import run_rules


def _one_based(flags):
    return list(np.flatnonzero(flags) + 1)


def test_c_chart_and_a_point_on_the_limit(published):
    figure = published("PC-01")  # NIST/SEMATECH e-Handbook 6.3.3.1
    chart = limits.c_chart(figure.inputs["counts"])
    figure.agrees("center", chart.centre[0])
    figure.agrees("ucl", chart.high[0])
    figure.agrees("lcl", chart.low[0])
    assert _one_based(chart.outside) == figure.expected["signals_1based"]


def test_p_chart_of_one_sample_size(published):
    figure = published("PC-02")  # NIST/SEMATECH e-Handbook 6.3.3.2
    chart = limits.p_chart(figure.inputs["defectives"], figure.inputs["n"])
    figure.agrees("pbar", chart.centre[0])
    figure.agrees("ucl", chart.high[0])
    figure.agrees("lcl", chart.low[0])
    assert _one_based(chart.outside) == figure.expected["signals_1based"]
    counts = limits.np_chart(figure.inputs["defectives"], figure.inputs["n"])
    np.testing.assert_allclose(counts.high, chart.high * 50)
    np.testing.assert_array_equal(counts.outside, chart.outside)


def test_p_chart_after_explained_samples_are_taken_out(published):
    figure = published("PC-03")  # Montgomery (1991), pp. 152-155
    x = np.array(figure.inputs["defectives"])
    explained = np.array(figure.inputs["drop_1based"]) - 1
    kept = np.delete(x, explained)
    share = kept.sum() / (kept.size * figure.inputs["n"])
    chart = limits.p_chart(x, figure.inputs["n"], share)
    figure.agrees("pbar", share)
    figure.agrees("ucl", chart.high[0])
    figure.agrees("lcl", chart.low[0])
    assert set(_one_based(chart.outside)) - {15, 23} == set(figure.expected["new_signals_1based"])


def test_lower_limit_is_cut_at_zero(published):
    figure = published("PC-04")  # Montgomery (1991), pp. 155-159
    chart = limits.p_chart(figure.inputs["after_defectives"], figure.inputs["n"])
    figure.agrees("p_after", chart.centre[0])
    figure.agrees("ucl_after", chart.high[0])
    figure.agrees("lcl_after", chart.low[0])


def test_c_chart_with_a_low_and_a_high_point(published):
    figure = published("PC-05")  # Montgomery (1991), pp. 173-175
    counts = np.array(figure.inputs["counts"])
    chart = limits.c_chart(counts)
    assert _one_based(chart.outside) == figure.expected["signals_1based"]
    revised = limits.c_chart(counts[~chart.outside])
    for name, got in (("cbar", chart.centre), ("ucl", chart.high), ("lcl", chart.low)):
        figure.agrees(name, got[0])
    for name, got in (("cbar2", revised.centre), ("ucl2", revised.high), ("lcl2", revised.low)):
        figure.agrees(name, got[0])


def test_u_chart_has_limits_of_its_own_for_every_size(published):
    figure = published("PC-07")  # Montgomery (1991), pp. 183-184
    chart = limits.u_chart(figure.inputs["counts"], figure.inputs["units"])
    figure.agrees("ubar", chart.centre[0])
    figure.agrees("ucl_n10", chart.high[0])
    figure.agrees("lcl_n10", chart.low[0])
    figure.agrees("ucl_n8", chart.high[1])
    figure.agrees("lcl_n8", chart.low[1])
    assert _one_based(chart.outside) == figure.expected["signals_1based"]


def test_p_chart_of_varying_sample_sizes(published):
    figure = published("PC-08")  # Montgomery (6th ed., 2009), section 7.2.2
    chart = limits.p_chart(figure.inputs["defectives"], figure.inputs["n"])
    figure.agrees("pbar", chart.centre[0])
    figure.agrees("p_11", chart.value[10])
    figure.agrees("ucl_11", chart.high[10])
    assert _one_based(chart.outside) == figure.expected["signals_1based"]


def test_laney_limits_do_not_shrink_with_the_sample_size(published):
    figure = published("PC-09")  # Laney (2002), definition
    x, n, scale = np.array(figure.inputs["defectives"]), figure.inputs["n"], figure.inputs["scale"]
    chart = limits.laney_p_chart(x, n)
    large = limits.laney_p_chart(x * scale, n * scale)
    figure.agrees("sigma_z", chart.spread_factor)
    figure.agrees("ucl", chart.high[0])
    figure.agrees("lcl_raw", chart.centre[0] - 3 * chart.sigma[0])
    figure.agrees("sigma_z_scaled", large.spread_factor)
    figure.agrees("ucl_scaled", large.high[0])
    assert chart.outside.sum() == figure.expected["laney_signals"]
    assert limits.p_chart(x * scale, n * scale).outside.sum() == figure.expected["plain_p_signals_scaled"]


def test_false_alarm_rate_of_the_western_electric_rules(published):
    figure = published("PC-10")  # Champ and Woodall (1987), Table 1
    sets = [
        tuple(run_rules.WESTERN_ELECTRIC[number - 1] for number in numbers) for numbers in figure.inputs["rule_sets"]
    ]
    figure.agrees("arl0", [run_rules.average_run_length(rules) for rules in sets])


@pytest.mark.parametrize("number", range(1, 9))
def test_nelson_rules_fire_at_the_first_possible_point(published, number):
    figure = published("PC-11")  # Nelson (1984); ISO 7870-2:2013
    rule = run_rules.NELSON[number - 1]
    fired = run_rules.signals(figure.inputs["seq"][str(number)], (rule,))[rule.name]
    assert _one_based(fired) == [figure.expected["first_fire"][number - 1]]
