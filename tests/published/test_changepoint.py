import numpy as np

from monitor.reckoning.statistics.changepoint import binomial_change, level_change, poisson_change


def test_machine_adjusted_after_sample_thirty(published):
    figure = published("AT-03")  # Montgomery (1991), pp. 152-159
    found = binomial_change(figure.inputs["defectives"], figure.inputs["n"])
    figure.agrees("k", found.last_before)
    figure.agrees("lr", found.likelihood_ratio)
    figure.agrees("lr_at_30", found.ratios[29])
    assert found.earliest <= 30 <= found.latest
    assert found.false_alarm < 1e-12


def test_coal_mining_disasters(published):
    figure = published("AT-10")  # Jarrett (1979); Carlin, Gelfand and Smith (1992)
    found = poisson_change(figure.inputs["counts"])
    figure.agrees("k", found.last_before)
    figure.agrees("last_year_before", figure.inputs["first_year"] + found.last_before - 1)
    figure.agrees("rate_before", found.before)
    figure.agrees("rate_after", found.after)
    figure.agrees("lr", found.likelihood_ratio)


def test_flow_of_the_nile(published):
    figure = published("AT-11")  # Cobb (1978), Table 1
    found = level_change(figure.inputs["flow"])
    figure.agrees("k", found.last_before)
    figure.agrees("last_year_before", figure.inputs["first_year"] + found.last_before - 1)
    figure.agrees("mean_before", found.before)
    figure.agrees("mean_after", found.after)
    # A published interval by another method (asymptotic) is 25 to 32.
    assert 24 <= found.earliest <= 28 <= found.latest <= 32
    assert np.argmax(found.ratios) == 27
