import numpy as np
import pytest
from scipy import stats

from monitor.reckoning.attribution.dispersion import CHANCE, Dispersion, Grouping
from monitor.reckoning.attribution.quasi import fit_rates
from monitor.reckoning.attribution.score import excess, tail


def test_tail_follows_the_negative_binomial_far_out_and_errs_on_the_safe_side():
    for mean, spread, count in ((2.0, 1.3, 14), (5.0, 1.3, 20), (20.0, 1.3, 50), (5.0, 1.0001, 18), (5.0, 2.0, 26)):
        law = stats.nbinom(mean / (spread - 1), 1 / spread)
        exact = law.sf(count) + law.pmf(count) / 2
        close = tail((count - mean) / np.sqrt(mean * spread), (2 * spread - 1) / np.sqrt(mean * spread), np.inf)
        assert -0.1 < np.log10(close / exact) < 0.4


def test_tail_without_skew_is_normal_and_with_few_freedom_student():
    assert tail(3.0, 0.0, np.inf) == pytest.approx(stats.norm.sf(3))
    assert tail(3.0, 0.0, 5.0) == pytest.approx(stats.t.sf(3, 5))
    assert tail(2.0, -0.5, np.inf) < tail(2.0, 0.0, np.inf) < tail(2.0, 0.5, np.inf)


def _series(groups=40, rows=5, rate=0.02, pieces=300.0):
    coil = np.repeat(np.arange(groups), rows)
    return coil, np.full(coil.size, pieces), np.full(coil.size, pieces * rate)


def test_excess_is_observed_less_expected_in_standard_deviations():
    _, pieces, rejects = _series()
    rejects[:10] *= 3
    mark = np.r_[np.ones(10), np.zeros(190)]
    fit = fit_rates(np.ones((200, 1)), rejects, pieces, np.ones(200))
    found = excess(mark, fit, rejected=rejects, dispersion=CHANCE, groupings=(), inspected=pieces)
    share = rejects.sum() / pieces.sum()
    expected = 3000 * share
    by_hand = (180 - expected) / np.sqrt(expected * (1 - share) * 190 / 200)
    assert found.z == pytest.approx(by_hand)


def test_alike_coils_weigh_less():
    coil, pieces, rejects = _series()
    rejects[:10] *= 3
    mark = np.r_[np.ones(10), np.zeros(190)]
    fit = fit_rates(np.ones((200, 1)), rejects, pieces, np.ones(200))
    groups = (Grouping.of(coil, np.arange(200)),)
    alike = excess(
        mark, fit, rejected=rejects, dispersion=Dispersion(0.0, (0.2,), (0.0, 0.05)), groupings=groups, inspected=pieces
    )
    plain = excess(mark, fit, rejected=rejects, dispersion=CHANCE, groupings=groups, inspected=pieces)
    assert alike.z < 0.6 * plain.z
    assert alike.freedom < 100
    assert plain.freedom == np.inf


def test_what_the_fit_holds_still_shows_nothing():
    _, pieces, rejects = _series()
    rejects[:10] *= 3
    mark = np.r_[np.ones(10), np.zeros(190)]
    fit = fit_rates(np.column_stack([np.ones(200), mark]), rejects, pieces, np.ones(200), prior_sd=np.inf)
    assert excess(mark, fit, rejected=rejects, dispersion=CHANCE, groupings=(), inspected=pieces).p == 0.5


@pytest.mark.parametrize("mean", [0.5, 4.0])
def test_chances_are_as_rare_as_they_say(mean):
    rng = np.random.default_rng(6)
    pieces = np.full(200, 100.0)
    mark = np.r_[np.ones(10), np.zeros(190)]
    chances = []
    for _ in range(3000):
        rejects = rng.binomial(100, mean / 1000, 200).astype(float)
        fit = fit_rates(np.ones((200, 1)), rejects, pieces, np.ones(200))
        chances.append(excess(mark, fit, rejected=rejects, dispersion=CHANCE, groupings=(), inspected=pieces).p)
    for level in (0.05, 0.005):
        assert np.mean(np.array(chances) <= level) <= level + 3 * np.sqrt(level / 3000)
