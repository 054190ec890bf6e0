"""Mean times and sampling plans by the intervals of the product: an operating characteristic is an interval read back.

What is published of survival and sampling plans beyond this, and why it is not checked, stands in README.md.
"""

import numpy as np

from monitor.reckoning.statistics.intervals import clopper_pearson, poisson_exact


def test_interval_of_a_mean_time_between_failures(published):
    figure = published("SV-04")  # Proschan (1963), ninth aircraft
    hours = np.array(figure.inputs["hours_between_failures"], float)
    mean = hours.sum() / hours.size
    figure.agrees("mtbf", mean)
    figure.agrees("availability", mean / (mean + figure.inputs["mttr_h"]))
    # The last failure ends the time looked at, so the upper rate is that of one failure fewer.
    figure.agrees("ci_hi", 1 / poisson_exact(hours.size, hours.sum())[0])
    figure.agrees("ci_lo", 1 / poisson_exact(hours.size - 1, hours.sum())[1])


def _accepted_with(chance, limit, pieces):
    """Share at which up to `limit` rejects are found with this chance, as an end of an exact Poisson interval."""
    if chance > 0.5:
        return poisson_exact(limit + 1, pieces, 2 * chance - 1)[0]
    # An interval of no width lies at the middle; nothing narrower can be asked for.
    return poisson_exact(limit, pieces, max(1 - 2 * chance, 1e-9))[1]


def test_share_accepted_by_a_sampling_plan(published):
    figure = published("SP-02")  # MIL-STD-105E, code letter K, AQL 1.0
    shares = [_accepted_with(chance, figure.inputs["c"], figure.inputs["n"]) for chance in figure.inputs["pa"]]
    figure.agrees("p_percent", 100 * np.array(shares))


def test_chance_of_accepting_a_lot(published):
    figure = published("SP-03")  # ISO 2859-1, type B curve
    pieces, limit = figure.inputs["n"], figure.inputs["c"]
    share = figure.inputs["D"] / figure.inputs["N"]
    by_binomial = clopper_pearson(limit + 1, pieces, 2 * figure.expected["binomial"] - 1)[0]
    by_poisson = poisson_exact(limit + 1, pieces, 2 * figure.expected["poisson"] - 1)[0]
    # Read back: the share whose chance is the published one.  There 6e-6 of the chance are 6e-7 of the share.
    np.testing.assert_allclose([by_binomial, by_poisson], share, rtol=0, atol=6e-7)
