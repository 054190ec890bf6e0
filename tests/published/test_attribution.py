import numpy as np
import pandas as pd
import pytest
from scipy import stats

from monitor.figures.judgement.suspects import suspects_table
from monitor.reckoning.attribution.dispersion import CHANCE, Grouping, estimate
from monitor.reckoning.attribution.quasi import fit_rates
from monitor.reckoning.attribution.score import excess
from monitor.reckoning.attribution.suspects import Series, suspects


def _fit(rejected, inspected, *columns):
    y, n = np.asarray(rejected, float), np.asarray(inspected, float)
    design = np.column_stack([np.ones(y.size), *columns])
    return fit_rates(design, y, n, np.ones(y.size), prior_sd=np.inf), y, n


def test_three_crossed_causes_with_exposure(published):
    figure = published("AT-16")  # McCullagh and Nelder (1989), section 6.3.2: ships
    ships = pd.DataFrame(figure.inputs["rows"], columns=figure.inputs["columns"])
    ships = ships[ships["exposure"] > 0]
    columns = [ships["type"] == kind for kind in "BCDE"]
    columns += [ships["year"] == year for year in (65, 70, 75)] + [ships["period"] == 75]
    # Counted in thousandths of a month an incident is rare, and the share rejected is a Poisson rate.
    fit, y, _ = _fit(ships["incidents"], ships["exposure"] * 1000, *(column.to_numpy(float) for column in columns))
    figure.agrees("intercept", fit.coefficients[0] + np.log(1000))
    figure.agrees("type_BCDE", fit.coefficients[1:5])
    figure.agrees("year_65_70_75", fit.coefficients[5:8])
    figure.agrees("period_75", fit.coefficients[8])
    pearson = np.sum((y - fit.expected) ** 2 / fit.expected) / (y.size - 9)
    figure.agrees("phi", pearson)


def test_trend_over_ordered_groups(published):
    figure = published("AT-15")  # Fleiss (1981), p. 139
    fit, y, n = _fit(figure.inputs["x"], figure.inputs["n"])
    found = excess(
        np.array(figure.inputs["score"], float), fit, rejected=y, dispersion=CHANCE, groupings=(), inspected=n
    )
    figure.agrees("trend_chi2", found.z**2)
    figure.agrees("trend_p", 2 * stats.norm.sf(abs(found.z)))


def test_confounded_departments_are_held_still(published):
    figure = published("AT-06")  # Bickel, Hammel and O'Connell (1975): admissions
    tables = np.array(figure.inputs["tables"])
    refused, applied = tables[:, :, 1].ravel(), tables.sum(axis=2).ravel()
    women = np.tile([0.0, 1.0], 6)
    department = np.kron(np.eye(6)[:, 1:], np.ones((2, 1)))
    crude, y, n = _fit(refused, applied)
    held, _, _ = _fit(refused, applied, *department.T)
    assert excess(women, crude, rejected=y, dispersion=CHANCE, groupings=(), inspected=n).z > 9
    still = excess(women, held, rejected=y, dispersion=CHANCE, groupings=(), inspected=n)
    # The published test of no association, without its continuity correction, is sqrt(1.52) = 1.23.
    assert still.z < 0
    assert abs(still.z) < np.sqrt(figure.expected["mh_chi2_cc"]) + 0.6


def _plates(figure):
    variety = np.array(figure.inputs["variety_O73"], float)
    extract = np.array(figure.inputs["extract_cucumber"], float)
    return _fit(figure.inputs["y"], figure.inputs["n"], variety, extract), variety * extract


def test_scatter_between_plates_keeps_an_interaction_from_looking_real(published):
    figure = published("AT-08")  # Crowder (1978); Breslow and Clayton (1993): seeds on plates
    (fit, y, n), both = _plates(figure)
    full, _, _ = _fit(y, n, fit.design[:, 1], fit.design[:, 2], both)
    pearson = np.sum((y - full.expected) ** 2 / (full.expected * (1 - full.share))) / (y.size - 4)
    figure.agrees("phi", pearson)
    each_plate = (Grouping.of(np.arange(y.size), np.arange(y.size)),)
    scatter = estimate(full, y, n, each_plate)
    plain = excess(-both, fit, rejected=y, dispersion=CHANCE, groupings=(), inspected=n)
    careful = excess(-both, fit, rejected=y, dispersion=scatter, groupings=each_plate, inspected=n)
    assert plain.p < 0.025
    assert careful.p > 2 * plain.p


def test_correlation_of_the_seeds_of_a_plate(published):
    figure = published("AT-09")  # Crowder (1978): common intra-plate correlation
    (fit, y, n), both = _plates(figure)
    full, _, _ = _fit(y, n, fit.design[:, 1], fit.design[:, 2], both)
    scatter = estimate(full, y, n, (Grouping.of(np.arange(y.size), np.arange(y.size)),))
    # Moments against maximum likelihood, on 21 plates: the same within two standard errors.
    assert scatter.rows == pytest.approx(figure.expected["rho"], abs=2 * scatter.errors[0])
    assert scatter.rows > 0


def test_the_two_samples_with_known_causes_come_first(published):
    figure = published("AT-01")  # Montgomery (1991), pp. 152-155: samples 15 and 23
    x = np.array(figure.inputs["defectives"])
    rows = pd.DataFrame({"inspected": figure.inputs["n"], "lot": [f"sample {k + 1}" for k in range(x.size)]})
    answer = suspects_table(suspects([Series("D1", "leaks", rows, x)]))
    named = set(answer.loc[answer["factor"] == "lot", "level"].iloc[:2])
    assert named <= {f"sample {k}" for k in figure.expected["significant_1based"]}
