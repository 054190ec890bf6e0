import numpy as np
import pytest

from monitor.reckoning.statistics import intervals


@pytest.mark.parametrize(
    ("check", "interval"),
    [
        ("PI-01", intervals.wilson),  # Newcombe (1998), Table I, method 3
        ("PI-02", intervals.clopper_pearson),  # Newcombe (1998), Table I, method 5
        ("PI-03", intervals.agresti_coull),  # Agresti and Coull (1998), formula
    ],
)
def test_interval_of_a_share(published, check, interval):
    figure = published(check)
    rejected, inspected = np.array(figure.inputs["x_n"]).T
    low, high = interval(rejected, inspected)
    figure.agrees("lo", low)
    figure.agrees("hi", high)


def test_bound_where_nothing_was_rejected(published):
    figure = published("PI-04")  # Hanley and Lippman-Hand (1983), rule of three
    n = np.array(figure.inputs["n"])
    figure.agrees("exact", intervals.share_bound_without_rejects(n))
    figure.agrees("rule", 3 / n)
