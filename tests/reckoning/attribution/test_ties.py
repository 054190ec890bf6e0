"""Never one of two factors on the same rows, and no tie where the data speak for one of them."""

import itertools

import numpy as np
import pandas as pd
import pytest

from monitor.figures.judgement.suspects import suspects_table
from monitor.reckoning.attribution.suspects import Series, suspects

ROWS = 240
COLUMNS = {
    "lot": "lot",
    "press": "press_id",
    "shift": "shift",
    "setup": "setup_id",
    "wear": "strokes_since_sharpening",
    "speed": "speed_spm",
}


def _quiet(rng):
    """Rows in which nothing hangs together with anything."""
    return pd.DataFrame(
        {
            "inspected": rng.integers(100, 400, ROWS),
            "lot": rng.permutation(np.repeat([f"L{k}" for k in range(24)], 10)),
            "press_id": rng.choice(["P1", "P2", "P3"], ROWS),
            "shift": rng.choice(["early", "late", "night"], ROWS),
            "setup_id": rng.permutation(np.repeat([f"S{k}" for k in range(20)], 12)),
            "strokes_since_sharpening": rng.uniform(0, 200_000, ROWS),
            "speed_spm": rng.uniform(80, 120, ROWS),
        }
    )


def _mark(rows, rng, factor, bad):
    """Give the bad rows a level of the factor that no other row has."""
    column = COLUMNS[factor]
    if rows[column].dtype.kind == "f":
        rows.loc[bad, column] = rows[column].max() * rng.uniform(1.3, 1.5, bad.sum())
    else:
        rows.loc[bad, column] = "the bad one"


def _given(rows, rejected):
    answer = suspects_table(suspects([Series("D1", "BUR", rows, rejected)]))
    return answer[answer["verdict"].isin(["acts", "tied"])]


@pytest.mark.parametrize(("one", "other"), list(itertools.combinations(COLUMNS, 2)))
def test_two_factors_on_the_same_rows_are_never_named_singly(one, other):
    rng = np.random.default_rng([7, *one.encode(), *other.encode()])
    rows = _quiet(rng)
    bad = np.arange(ROWS) % 20 == 0
    _mark(rows, rng, one, bad)
    _mark(rows, rng, other, bad)
    given = _given(rows, rng.binomial(rows["inspected"], np.where(bad, 0.08, 0.01)).astype(float))
    mine = given[given["factor"].isin([one, other])]
    assert set(mine["verdict"]) == {"tied"}
    assert set(mine["factor"]) == {one, other}
    for line in mine.itertuples():
        assert all(f"{name}: " in line.tied_with for name in {one, other} - {line.factor})


def test_a_wider_factor_that_the_data_speak_against_is_no_rival():
    rng = np.random.default_rng(3)
    rows = _quiet(rng)
    bad = np.arange(ROWS) % 20 == 0
    _mark(rows, rng, "lot", bad)
    rows.loc[np.arange(ROWS) % 10 == 0, "setup_id"] = "half of it ran well"
    given = _given(rows, rng.binomial(rows["inspected"], np.where(bad, 0.06, 0.01)).astype(float))
    assert given[["factor", "verdict"]].to_numpy().tolist() == [["lot", "acts"]]


@pytest.mark.parametrize("seed", range(6))
def test_nothing_is_named_where_nothing_is_planted(seed):
    rng = np.random.default_rng([11, seed])
    rows = _quiet(rng)
    spread = rng.beta(0.01 * 300, 0.99 * 300, ROWS)
    assert _given(rows, rng.binomial(rows["inspected"], spread).astype(float)).empty
