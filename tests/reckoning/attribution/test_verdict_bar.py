"""The measured table of docs/method-verdict.md in small: the same code on fewer series, with room for chance."""

import numpy as np
import pytest

from tests.benchmarks import verdict_others
from tests.benchmarks.verdict_bar import TIE, plant_outcome, tally, tie_shares
from tests.benchmarks.verdict_report import Bar

SEED = 2026


@pytest.mark.parametrize(
    ("name", "series"),
    [("wear ×4", 20), ("coil ends ×5", 20), ("one bad lot ×3", 25), ("lot ×5, wear ×4 and press ×2.5", 10)],
)
def test_what_is_seen_is_named_first_and_little_else(name, series):
    counted = tally(name, series, SEED)
    assert counted.first >= 0.9
    assert counted.false <= 0.12
    assert counted.covered >= 0.85
    assert counted.tied_wrongly <= 0.07


def test_nothing_planted_is_mostly_silent():
    assert np.mean([bool(one.lines) for one in tally("nothing planted", 40, SEED).outcomes]) <= 0.1


def test_a_true_tie_names_both_sides():
    shares = tie_shares(tally(TIE, 25, SEED))
    assert shares["both named, of the seen"] >= 0.85
    assert shares["one side alone, of all"] <= 0.08


def test_a_plant_finds_most_and_cries_wolf_seldom():
    found = plant_outcome(0, SEED)
    assert found.found_of_seen >= 0.75 * found.seen
    assert found.false <= 1


@pytest.mark.parametrize("name", ["nothing planted", "coil ends ×5", "wear ×4"])
def test_other_shops_than_those_it_was_tried_on(name):
    counted = tally(name, 15, SEED, verdict_others.series_of)
    assert sum(not line.right for line in counted.lines) <= 2
    assert name == "nothing planted" or counted.found_of_seen >= 0.8


def test_a_figure_past_its_bound_is_marked():
    assert "missed" in Bar("found", 0.95, 0.94).row()
    assert "missed" not in Bar("found", 0.95, 0.95).row()
    assert "missed" in Bar("false", 0.05, 0.051, at_most=True).row()
