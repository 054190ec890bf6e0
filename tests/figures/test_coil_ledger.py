"""Yield by lot, and differences that nothing explains, over a few rows of the coils figure."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from monitor.figures.coil_ledger import differences, yields

BOOK = {"C": {"width_mm": 100.0, "thickness_mm": 1.0}, "NO": {"width_mm": None, "thickness_mm": 1.0}}


def coils(*rows: tuple[str, str, float, float, float, float]) -> pd.DataFrame:
    names = ["coil_id", "lot", "start_kg", "remaining_kg", "used_kg", "good_kg"]
    table = pd.DataFrame(list(rows), columns=names)
    return table.assign(press_id="P", mounted_at="2026-11-02T06:00:00+00:00", used_m=300.0, strokes=10_000)


def test_yield_is_good_per_strip_used_and_says_what_was_not_weighed() -> None:
    table = yields(
        coils(("A", "L1", 100, 0, 100, 70), ("B", "L1", 100, 50, 50, 20), ("C", "L2", 1, 1, np.nan, np.nan)), ["lot"]
    ).set_index("lot")
    assert table.loc["L1", "coil_yield"] == pytest.approx(90 / 150)
    assert table.loc["L2", ["mountings", "unweighed"]].tolist() == [1, 1]
    assert np.isnan(table.loc["L2", "coil_yield"])


def test_only_what_nothing_explains_is_listed_with_the_input_that_would_mend_it() -> None:
    rows = coils(
        ("C", "L", 1000, 200, 798, 500), ("C", "L", 1000, 200, 720, 500), ("NO", "L", 1000, 200, 1, 1),
        ("GONE", "L", 1000, 200, 1, 1),
    )  # fmt: skip
    (row,) = differences(rows, BOOK).to_dict("records")
    assert (row["coil_id"], row["difference_kg"], row["likeliest"], row["entered"]) == ("C", 80, "thickness_mm", 1.0)
    assert row["needed"] == pytest.approx(800 / 720)


def test_a_coil_that_was_never_weighed_again_has_no_difference() -> None:
    assert differences(coils(("C", "L", 1000, 280, 720, 500)), BOOK).empty
