import numpy as np
import pandas as pd
import pytest

from monitor.reckoning.attribution.candidates import build as build_candidates
from monitor.reckoning.attribution.context import build as build_context
from shared.factors import Explanation, Level


@pytest.fixture
def rows():
    rng = np.random.default_rng(1)
    size = 120
    strokes = np.r_[np.full(20, np.nan), rng.uniform(0, 200_000, size - 20)]
    return pd.DataFrame(
        {
            "inspected": rng.integers(10, 90, size),
            "lot": np.repeat([f"L{k}" for k in range(12)], 10),
            "heat": np.repeat([f"H{k}" for k in range(6)], 20),
            "coil_id": np.repeat([f"C{k}" for k in range(40)], 3),
            "press_id": np.tile(["P1", "P2", "P3"], 40),
            "strokes_since_sharpening": strokes,
            "cert_yield_mpa": np.repeat(rng.normal(300, 10, 12), 10),
            "day": np.arange(size) // 3 * 1.0,
            "head_m": rng.uniform(0, 500, size),
            "tail_m": rng.uniform(0, 500, size),
        }
    )


@pytest.fixture
def candidates(rows):
    return build_candidates(build_context(rows))


def _all_columns(candidates):
    by_column = {question.column: index for index, question in enumerate(candidates.questions) if not question.low}
    return np.column_stack([candidates.column(by_column[column]) for column in sorted(by_column)])


def test_sums_over_all_columns_are_those_of_the_columns(candidates):
    values = np.random.default_rng(2).normal(size=(120, 3))
    columns = _all_columns(candidates)
    np.testing.assert_allclose(candidates.dot(values), columns.T @ values, atol=1e-9)
    np.testing.assert_allclose(candidates.dot_square(values[:, 0]), (columns**2).T @ values[:, 0], atol=1e-9)


def test_squares_of_sums_by_group_are_those_of_the_columns(candidates):
    rng = np.random.default_rng(3)
    columns = _all_columns(candidates)
    for codes in (np.r_[0:7, rng.integers(0, 7, 113)], np.arange(120) // 40):
        weights = rng.random(120)
        by_group = (codes == np.arange(codes.max() + 1)[:, None]) * weights
        for _ in range(2):  # the second time from what was kept of the grouping
            squares = candidates.square_of_sums(codes, weights)
            np.testing.assert_allclose(squares, np.sum((by_group @ columns) ** 2, axis=0), rtol=1e-9)


def test_a_question_turned_round_is_the_rest(candidates):
    low = next(index for index, question in enumerate(candidates.questions) if question.level == Level("all_but", "P2"))
    high = next(index for index, question in enumerate(candidates.questions) if question.level == Level("is", "P2"))
    np.testing.assert_array_equal(candidates.column(low), 1 - candidates.column(high))


def test_a_value_that_is_not_known_stands_in_the_middle(rows, candidates):
    step = next(
        index for index, question in enumerate(candidates.questions) if question.level.code == "sharpening_from"
    )
    column = candidates.column(step)
    strokes, pieces = rows["strokes_since_sharpening"].to_numpy(), rows["inspected"].to_numpy()
    cut = candidates.questions[step].level.number
    known = ~np.isnan(strokes)
    assert set(column[known]) == {0.0, 1.0}
    np.testing.assert_allclose(column[known], strokes[known] >= cut - 0.5)
    np.testing.assert_allclose(column[~known], np.average(column[known], weights=pieces[known]))


def test_the_allowed_false_alarms_are_shared_out_once(candidates):
    assert np.sum(1 / candidates.looks) == pytest.approx(1.0)
    assert (candidates.looks > 1).all()


def test_one_delivery_under_two_names_is_asked_once(rows):
    rows["heat"] = rows["lot"].str.replace("L", "H")
    candidates = build_candidates(build_context(rows))
    assert not any(question.factor == "heat" for question in candidates.questions)
    assert (Explanation("heat", (Level("is", "H3"),)),) in candidates.aliases.values()


def test_steps_around_rows_hold_them_and_as_few_others_as_can_be(rows, candidates):
    bad = (rows["strokes_since_sharpening"] > 150_000).to_numpy()
    wider = candidates.with_steps_around(bad, rows["inspected"].to_numpy(float))
    added = range(len(candidates.questions), len(wider.questions))
    step = next(index for index in added if wider.questions[index].level.code == "sharpening_from")
    np.testing.assert_array_equal(wider.column(step) == 1, bad)


def test_levels_that_hold_everything_are_not_asked(rows):
    rows["supplier"] = "S1"
    assert not any(question.factor == "supplier" for question in build_candidates(build_context(rows)).questions)
