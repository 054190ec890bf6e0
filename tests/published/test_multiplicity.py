import numpy as np
from scipy import stats

from monitor.reckoning.statistics.multiplicity import benjamini_hochberg, holm


def test_benjamini_and_hochberg_example(published):
    figure = published("AT-04")  # Benjamini and Hochberg (1995), p. 295
    adjusted = benjamini_hochberg(figure.inputs["p"])
    figure.agrees("bh", (adjusted <= figure.inputs["q"]).sum())
    figure.agrees("adj_first5", adjusted[:5])
    assert (holm(figure.inputs["p"]) <= figure.inputs["q"]).sum() == figure.expected["bonferroni"]


def test_samples_that_stand_out(published):
    figure = published("AT-01")  # Montgomery (1991), pp. 152-155
    x, n = np.array(figure.inputs["defectives"]), figure.inputs["n"]
    rest, pieces = x.sum() - x, n * (x.size - 1)
    p = np.array([stats.fisher_exact([[a, n - a], [b, pieces - b]]).pvalue for a, b in zip(x, rest, strict=True)])
    adjusted = holm(p)
    assert list(np.flatnonzero(adjusted < figure.inputs["alpha"]) + 1) == figure.expected["significant_1based"]
    figure.agrees("holm_15", adjusted[14])
    figure.agrees("holm_23", adjusted[22])
