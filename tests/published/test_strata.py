"""Tables, strata and batches: what a hand check of the verdict would use, against the figures that others printed.

The rate model is fitted to both outcomes of every stratum, each stratum with a level of its own.  Counted among very
many pieces an outcome is rare, so that its rate ratio is an odds ratio and the fit is that of a logistic model
(from memory: Baker 1994, The Statistician 43, 495-504).
"""

import numpy as np
import pytest
from scipy import stats

from monitor.reckoning.attribution.dispersion import CHANCE
from monitor.reckoning.attribution.quasi import fit_rates
from monitor.reckoning.attribution.score import excess
from monitor.reckoning.statistics.capability import capability
from monitor.reckoning.statistics.measured_charts import subgroup_chart

PIECES = 1e9


def _rare(counts, *columns):
    """Fit counts as rare among very many pieces; the coefficients are those of a log-linear model."""
    y = np.asarray(counts, float)
    n = np.full(y.size, PIECES)
    return fit_rates(np.column_stack([np.ones(y.size), *columns]), y, n, np.ones(y.size), prior_sd=np.inf), y, n


def _levels(codes):
    return (np.asarray(codes)[:, None] == np.unique(codes)[1:]).astype(float).T


def _deviance(y, expected):
    return 2 * np.sum(np.where(y > 0, y * np.log(np.maximum(y, 1) / expected), 0) - (y - expected))


def test_share_rising_with_dose(published):
    figure = published("AT-07")  # Bliss (1935); Dobson, section 7.3
    dose, n, killed = (np.array(figure.inputs[name], float) for name in ("dose", "n", "killed"))
    bad = np.repeat([1.0, 0.0], dose.size)
    stratum = np.tile(np.arange(dose.size), 2)
    middle = dose.mean()
    slope = bad * np.tile(dose - middle, 2)
    fit, y, _ = _rare(np.r_[killed, n - killed], *_levels(stratum), bad, slope)
    b0_at_middle, b1 = fit.coefficients[-2:]
    figure.agrees("b0", b0_at_middle - b1 * middle)
    figure.agrees("b1", b1)
    figure.agrees("se0", np.sqrt(np.array([1, -middle]) @ fit.cover[-2:, -2:] @ np.array([1, -middle])))
    figure.agrees("se1", np.sqrt(fit.cover[-1, -1]))
    figure.agrees("fitted", fit.expected[: dose.size])
    figure.agrees("deviance", _deviance(y, fit.expected))


def _strata(figure):
    """Counts of all cells, which of them are of the first row and column, and their stratum; empty strata left out."""
    tables = np.array([table for table in figure.inputs["tables"] if np.all(np.sum(table, axis=0))], float)
    stratum = np.repeat(np.arange(len(tables)), 4)
    first_row, first_column = np.tile([1.0, 1, 0, 0], len(tables)), np.tile([1.0, 0, 1, 0], len(tables))
    strata = [*_levels(stratum)]
    each = [np.ones(stratum.size), *strata]
    held = [*strata, *(level * first_row for level in each), *(level * first_column for level in each)]
    return tables, first_row * first_column, held


def _hypergeometric(tables):
    """Variance of the first cells with the margins fixed, which divides by n - 1, and by the fit, dividing by n."""
    n = tables.sum(axis=(1, 2))
    product = np.prod(tables.sum(axis=1), axis=1) * np.prod(tables.sum(axis=2), axis=1)
    return np.sum(product / (n**2 * (n - 1))), np.sum(product / n**3)


def test_the_same_effect_in_every_stratum(published):
    figure = published("AT-17")  # Agresti (1996), Table 3.3
    tables, both, held = _strata(figure)
    fit, y, n = _rare(tables.ravel(), *held)
    fixed, fitted = _hypergeometric(tables)
    figure.agrees(
        "cmh", excess(both, fit, rejected=y, dispersion=CHANCE, groupings=(), inspected=n).z ** 2 * fitted / fixed
    )
    common, _, _ = _rare(tables.ravel(), *held, both)
    # Mantel and Haenszel pool 2.174; the likelihood has its own estimate of the same ratio, within a hundredth of it.
    assert np.exp(common.coefficients[-1]) == pytest.approx(figure.expected["or_mh"], abs=0.01)
    homogeneity = np.sum((y - common.expected) ** 2 / common.expected)
    figure.agrees("breslow_day", homogeneity)
    figure.agrees("bd_p", stats.chi2.sf(homogeneity, len(tables) - 1))


def test_strata_with_empty_cells(published):
    figure = published("AT-05")  # Agresti (1990), pp. 231-237: penicillin
    tables, both, held = _strata(figure)
    fit, y, n = _rare(tables.ravel(), *held)
    fixed, fitted = _hypergeometric(tables)
    # The published test takes half a piece off the difference, against unevenness of whole counts.
    difference = excess(both, fit, rejected=y, dispersion=CHANCE, groupings=(), inspected=n).z * np.sqrt(fitted)
    corrected = (abs(difference) - 0.5) ** 2 / fixed
    figure.agrees("mh_chi2_cc", corrected)
    figure.agrees("p_cc", stats.chi2.sf(corrected, 1))


def test_failures_by_machine_and_position(published):
    figure = published("AT-14")  # Haberman (1973): piston rings
    table = np.array(figure.inputs["table"])
    machine, position = (part.ravel() for part in np.indices(table.shape))
    fit, y, _ = _rare(table.ravel(), *_levels(machine), *_levels(position))
    residual = (y - fit.expected) / np.sqrt(fit.expected)
    figure.agrees("chi2", np.sum(residual**2))
    freedom = table.size - fit.coefficients.size
    figure.agrees("df", freedom)
    figure.agrees("p", stats.chi2.sf(np.sum(residual**2), freedom))
    figure.agrees("residual_first_row", residual[:3])


def _batches(figure):
    """Mean squares between and within batches from what chart and capability say of them."""
    values = np.reshape(figure.inputs["yield"], (figure.inputs["batches"], figure.inputs["per_batch"]))
    chart, told = subgroup_chart(values, "sd"), capability(values, spread="sd")
    between = values.shape[1] * np.var(chart.location.value, ddof=1)
    total = told.sd_overall**2 * (values.size - 1)
    within = (total - between * (len(values) - 1)) / (values.size - len(values))
    return chart, told, between, within


@pytest.mark.parametrize(("identity", "matters"), [("AT-12", True), ("AT-13", False)])
def test_whether_it_is_the_batch(published, identity, matters):
    figure = published(identity)  # Davies and Goldsmith (1972); Box and Tiao (1973): dyestuff
    chart, told, between, within = _batches(figure)
    figure.agrees("mean", told.mean)
    figure.agrees("ms_batch", between)
    figure.agrees("ms_within", within)
    figure.agrees("f", between / within)
    figure.agrees("p", stats.f.sf(between / within, 5, 24))
    figure.agrees("var_batch", max((between - within) / figure.inputs["per_batch"], 0.0))
    # The chart of the means says the same: a batch lies outside the limits, or none does.
    assert bool(chart.location.outside.any()) == matters
