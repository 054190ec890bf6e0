import numpy as np
import pytest

from monitor.reckoning.attribution.dispersion import Grouping, estimate
from monitor.reckoning.attribution.quasi import fit_rates

LOTS, COILS, ROWS = 60, 4, 4
LOT = np.repeat(np.arange(LOTS), COILS * ROWS)
COIL = np.repeat(np.arange(LOTS * COILS), ROWS)
TIME = LOT // 3
GROUPS = (Grouping.of(COIL, np.arange(COIL.size)), Grouping.of(LOT, COIL), Grouping.of(TIME, LOT))
PIECES = np.full(COIL.size, 500.0)


def _estimates(draw, runs=60, groups=GROUPS, seed=1):
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(runs):
        rejects = draw(rng).astype(float)
        found.append(
            estimate(fit_rates(np.ones((COIL.size, 1)), rejects, PIECES, np.ones(COIL.size)), rejects, PIECES, groups)
        )
    return found


def test_chance_alone_is_mostly_no_dispersion():
    found = _estimates(lambda rng: rng.binomial(500, 0.02, COIL.size))
    spread = [one.spread(PIECES).mean() for one in found]
    assert 1.0 <= np.mean(spread) < 1.05
    assert np.mean([max(one.groups) > 0 for one in found]) < 0.5


def test_clumps_within_rows_are_seen_as_such():
    correlation = 0.002
    size = 1 / correlation - 1
    found = _estimates(lambda rng: rng.binomial(500, rng.beta(0.02 * size, 0.98 * size, COIL.size)))
    assert np.mean([one.rows for one in found]) == pytest.approx(correlation, rel=0.1)


@pytest.mark.parametrize(("group", "place"), [(COIL, 0), (LOT, 1), (TIME, 2)])
def test_groups_that_rise_and_fall_together_are_seen_as_such(group, place):
    def draw(rng):
        noise = rng.gamma(1 / 0.15, 0.15, group.max() + 1)
        return rng.binomial(500, 0.02 * noise[group])

    found = _estimates(draw)
    mean = np.mean([one.groups for one in found], axis=0)
    assert mean[place] == pytest.approx(0.15, rel=0.25)
    assert np.delete(mean, place).max() < 0.03


def test_a_group_held_still_by_the_fit_does_not_count():
    rng = np.random.default_rng(3)
    rejects = rng.binomial(500, np.where(LOT == 7, 0.12, 0.02)).astype(float)
    alone = fit_rates(np.ones((COIL.size, 1)), rejects, PIECES, np.ones(COIL.size))
    held = fit_rates(np.column_stack([np.ones(COIL.size), LOT == 7]), rejects, PIECES, np.ones(COIL.size))
    assert estimate(alone, rejects, PIECES, GROUPS).groups[1] > 0.2
    assert max(estimate(held, rejects, PIECES, GROUPS).groups) < 0.02


def test_single_rows_say_nothing_of_coils():
    found = _estimates(
        lambda rng: rng.binomial(500, 0.02, COIL.size), 3, (Grouping.of(np.arange(COIL.size), np.arange(COIL.size)),)
    )
    assert all(one.groups == (0.0,) for one in found)


def test_few_large_inspections_do_not_drown_the_many_small():
    correlation = 0.004
    size = 1 / correlation - 1
    pieces = np.where(np.arange(COIL.size) % 20 == 0, 5000.0, 40.0)
    rng = np.random.default_rng(4)
    found = []
    for _ in range(80):
        share = rng.beta(0.01 * size, 0.99 * size, COIL.size)
        rejects = rng.binomial(pieces.astype(int), share).astype(float)
        fit = fit_rates(np.ones((COIL.size, 1)), rejects, pieces, np.ones(COIL.size))
        found.append(estimate(fit, rejects, pieces, GROUPS).rows)
    assert np.mean(found) == pytest.approx(correlation, rel=0.2)
    # Weighted as if rows scattered by chance alone, the large ones would double this.
    assert np.std(found) < 0.4 * correlation


def test_scatter_seen_on_few_groups_is_doubted():
    rng = np.random.default_rng(6)
    few = np.arange(COIL.size) * 5 // COIL.size
    rejects = rng.binomial(500, 0.02 * rng.gamma(5, 1 / 5, 5)[few]).astype(float)
    fit = fit_rates(np.ones((COIL.size, 1)), rejects, PIECES, np.ones(COIL.size))
    scatter = estimate(fit, rejects, PIECES, (Grouping.of(few, COIL),))
    # Five groups and the eight held known before: a relative error of sqrt(2 / 13) at least.
    assert scatter.errors[1] > 0.35 * scatter.groups[0] > 0
