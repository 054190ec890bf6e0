import numpy as np
import pytest

from monitor.reckoning.statistics.wear import FRESH_STROKES, due_in_s, economic_interval, wear_table


def _worn(seed, strokes=200_000, rows=4000, spread=0.0):
    """Rejects whose rate rises in a straight line from 0.1 % to 1.1 % at 200 000 strokes."""
    rng = np.random.default_rng(seed)
    at = rng.uniform(0, strokes, rows)
    rate = 0.001 + 0.01 * at / 200_000
    noise = rng.gamma(1 / spread, spread, rows) if spread else 1.0
    return at, np.full(rows, 400.0), rng.binomial(400, np.minimum(rate * noise, 1))


def test_the_first_strokes_stand_apart_and_nothing_is_lost():
    at, inspected, rejected = _worn(1)
    table = wear_table(at, inspected, rejected)
    assert table.strokes_from[0] == 0
    assert table.strokes_to[0] == FRESH_STROKES
    assert (table.strokes_from[1:] == table.strokes_to[:-1]).all()
    assert table.strokes_to[-1] > at.max()
    assert table.inspected.sum() == inspected.sum()
    assert table.rejected.sum() == rejected.sum()
    assert 10 <= table.rate.size <= 15


def test_rows_without_a_known_sharpening_are_left_out():
    table = wear_table([np.nan, 100.0], [50, 60], [5, 6])
    assert table.inspected.sum() == 60
    assert wear_table([np.nan], [50], [5]).inspected.sum() == 0


def test_a_bin_without_pieces_has_no_rate():
    table = wear_table([100.0, 90_000.0], [50, 60], [5, 6])
    empty = table.inspected == 0
    assert empty.any()
    assert np.isnan(table.rate[empty]).all()
    assert np.isnan(table.rate_high[empty]).all()


def test_clumped_rejects_widen_the_interval():
    plain, clumped = wear_table(*_worn(2)), wear_table(*_worn(2, spread=1.0))
    assert plain.spread < 1.2
    assert clumped.spread > 2.0
    assert np.median(clumped.rate_high - clumped.rate_low) > 1.3 * np.median(plain.rate_high - plain.rate_low)


def test_intervals_hold_the_true_rate():
    held = []
    for seed in range(40):
        table = wear_table(*_worn(seed, spread=0.5))
        middle = (table.strokes_from + table.strokes_to) / 2
        inside = table.strokes_to <= 200_000
        true = 0.001 + 0.01 * middle / 200_000
        held.append(((table.rate_low <= true) & (true <= table.rate_high))[inside])
    assert np.mean(np.concatenate(held)) > 0.92


def test_the_interval_of_a_straight_rise_is_known_in_closed_form():
    # Cost a stroke (K + aT + bT²/2) / T is least at T = sqrt(2K / b), b = 0.01 / 200 000.
    found = economic_interval(wear_table(*_worn(3, rows=20_000)), sharpening_pieces=400)
    best = np.sqrt(2 * 400 / (0.01 / 200_000))
    assert found.strokes == pytest.approx(best, rel=0.1)
    assert found.low <= best <= found.high


def test_two_pieces_a_stroke_halve_the_cost_of_a_sharpening():
    table = wear_table(*_worn(3, rows=20_000))
    single = economic_interval(table, 200, pieces_per_stroke=1)
    double = economic_interval(table, 400, pieces_per_stroke=2)
    assert double == single


def test_no_wear_has_no_economic_interval():
    rng = np.random.default_rng(4)
    table = wear_table(rng.uniform(0, 200_000, 2000), np.full(2000, 200.0), rng.binomial(200, 0.003, 2000))
    assert np.isnan(economic_interval(table, 2000).strokes)
    nothing = wear_table([10.0, 50_000.0, 90_000.0], [50, 50, 50], [0, 0, 0])
    assert np.isnan(economic_interval(nothing, 100).strokes)


def test_a_bad_fresh_edge_does_not_hide_the_wear_after_it():
    at, inspected, rejected = _worn(5, rows=20_000)
    fresh = at < FRESH_STROKES
    rejected[fresh] = np.random.default_rng(5).binomial(400, 0.02, fresh.sum())
    table = wear_table(at, inspected, rejected)
    assert table.rate[0] > 2 * table.rate[1]
    assert economic_interval(table, 400).strokes == pytest.approx(126_000, rel=0.15)


def test_the_same_seed_gives_the_same_interval():
    table = wear_table(*_worn(6))
    assert economic_interval(table, 300, seed=3) == economic_interval(table, 300, seed=3)


def test_a_sharpening_without_cost_is_refused():
    with pytest.raises(ValueError, match="above 0"):
        economic_interval(wear_table(*_worn(7)), 0)
    with pytest.raises(ValueError, match="between 0 and inspected"):
        wear_table([1.0], [2], [3])


def test_when_the_next_sharpening_falls_due():
    assert due_in_s(150_000, 200_000, 40_000, 86_400) == pytest.approx(108_000)
    assert due_in_s(200_001, 200_000, 0, 86_400) == 0
    assert np.isnan(due_in_s(np.nan, 200_000, 40_000, 86_400))
    assert np.isnan(due_in_s(1, np.nan, 40_000, 86_400))
    assert np.isnan(due_in_s(1, 200_000, 0, 86_400))
