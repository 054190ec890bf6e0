import numpy as np
import pandas as pd

from monitor.reckoning.attribution.candidates import build as build_candidates
from monitor.reckoning.attribution.context import build as build_context
from monitor.reckoning.attribution.stepwise import Rejects, search
from shared.factors import Level
from tests.benchmarks.verdict_bar import SCENARIOS, series_of
from tests.benchmarks.verdict_plants import SAMPLES

THREE = "lot ×5, wear ×4 and press ×2.5"


def _search(rows, rejected):
    read = build_context(rows)
    rejects = Rejects.of(read, build_candidates(read), rejected[read.kept])
    state, _ = search(rejects)
    return rejects, state


def test_large_troubles_do_not_hide_each_other():
    # 35,155 rejects: while two of the three go on, coils, lots and weeks differ so much that the third does not show.
    rows, rejected, truth = series_of(THREE, 39, 77, pieces=SAMPLES)
    rejects, state = _search(rows, rejected)
    acting = {rejects.candidates.questions[term].factor for term in state.terms}
    assert {"lot", "wear", "press"} <= acting
    assert len(truth.planted) == len(SCENARIOS[THREE])


def test_all_but_one_press_and_all_but_another_are_the_third():
    for number in (33, 42):
        rows, rejected, truth = series_of(THREE, number, 31, pieces=SAMPLES)
        rejects, state = _search(rows, rejected)
        (press,) = [trouble.names for trouble in truth.planted if trouble.factor == "press"]
        questions = [rejects.candidates.questions[term] for term in state.terms]
        assert [one.level.name for one in questions if one.factor == "press"] == list(press)


def test_troubles_that_hide_each_other_are_let_in_together():
    # 338 rejects: one at a time only the presses other than P0 would be named.
    rows, rejected, truth = series_of(THREE, 169, 42, pieces=SAMPLES)
    rejects, state = _search(rows, rejected)
    acting = {rejects.candidates.questions[term].factor for term in state.terms}
    assert acting == {trouble.factor for trouble in truth.planted}


def test_what_wanders_by_the_week_is_followed_by_no_more_than_two_curves_of_time():
    rows, rejected, _ = series_of("nothing planted", 33, 32, scatter="weeks", pieces=SAMPLES)
    rejects, state = _search(rows, rejected)
    assert sum(rejects.candidates.questions[term].factor == "drift" for term in state.terms) <= 2


def test_what_the_others_explain_is_dropped_again():
    rng = np.random.default_rng(5)
    rows, _, _ = series_of("nothing planted", 3, 5)
    lot = rows["lot"].mode()[0]
    rate = np.where(rows["lot"] == lot, 0.06, 0.01)
    rejects, state = _search(rows, rng.binomial(rows["inspected"].astype(int), rate).astype(float))
    assert [rejects.candidates.questions[term].level for term in state.terms] == [Level("is", lot)]


def test_wear_before_the_first_known_sharpening_is_no_drift():
    rng = np.random.default_rng(8)
    rows, _, _ = series_of("nothing planted", 5, 8)
    strokes = rows["strokes_since_sharpening"].to_numpy(copy=True)
    rejected = rng.binomial(rows["inspected"].astype(int), 0.005 + 0.04 * strokes / strokes.max()).astype(float)
    first = int(np.argmax(np.diff(strokes) < 0)) + 1
    before = np.arange(len(rows)) < first
    rows["strokes_before_sharpening"] = np.where(before, strokes - strokes[0], np.nan)
    rows["strokes_since_sharpening"] = np.where(before, np.nan, strokes)
    rejects, state = _search(rows, rejected)
    assert {rejects.candidates.questions[term].factor for term in state.terms} == {"wear"}
    assert len({rejects.trouble(term) for term in state.terms}) == 1
    # Beside the level there is one for the rows whose strokes are not known.
    assert state.fit.coefficients.size == len(state.terms) + 2


def test_where_nothing_can_be_asked_nothing_is_found():
    rows = pd.DataFrame({"inspected": np.full(20, 100)})
    rejects, state = _search(rows, np.r_[np.full(10, 9.0), np.zeros(10)])
    assert not rejects.candidates.questions
    assert state.terms == ()
