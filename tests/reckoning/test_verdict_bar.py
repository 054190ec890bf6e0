"""The measured table of docs/method-verdict.md in small: the same code on fewer series, with room for chance."""

import numpy as np
import pytest

from tests.benchmarks.verdict_bar import TIE, plant_outcome, tally, tie_figures

SEED = 2026


def _percent(text):
    return float(text.rstrip("%")) / 100


@pytest.mark.parametrize(
    ("name", "series"),
    [("wear ×4", 20), ("coil ends ×5", 20), ("one bad lot ×3", 25), ("lot ×5, wear ×4 and press ×2.5", 10)],
)
def test_what_is_seen_is_named_first_and_little_else(name, series):
    counted = tally(name, series, SEED)
    seen = [one for one in counted.outcomes if any(one.seen)]
    assert np.mean([bool(one.lines) and one.lines[0].right for one in seen]) >= 0.9
    assert np.mean([not line.right for line in counted.lines]) <= 0.12
    assert np.mean([line.covered for line in counted.lines if line.right]) >= 0.85


def test_nothing_planted_is_mostly_silent():
    assert np.mean([bool(one.lines) for one in tally("nothing planted", 40, SEED).outcomes]) <= 0.1


def test_a_true_tie_names_both_sides():
    figures = tie_figures(tally(TIE, 25, SEED))
    assert _percent(figures["both named, of the seen"]) >= 0.85
    assert _percent(figures["one side alone, of all"]) <= 0.08


def test_a_plant_finds_most_and_cries_wolf_seldom():
    found = plant_outcome(0, SEED)
    assert found.found_of_seen >= 0.75 * found.seen
    assert found.false <= 1
