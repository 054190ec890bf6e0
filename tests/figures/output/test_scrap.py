"""The scrap table: rejected over inspected, once for every look."""

from __future__ import annotations

import pandas as pd
import pytest

from monitor.figures.output.scrap import scrap_rows
from tests.figures.given import facts


def table(*rows: dict[str, object]) -> pd.DataFrame:
    """The scrap table of reject facts of coil C1."""
    return scrap_rows(facts("rejects", *rows, kind="full").assign(coil_id="C1", lot="L1"))


def test_every_cause_has_all_that_was_inspected_below_it() -> None:
    # One look at 200 found 6 burrs and 2 scratches, another at 100 found 3 burrs.
    found = table(
        {"inspected": 200},
        {"cause": "BUR", "rejected": 6},
        {"cause": "SCR", "rejected": 2},
        {"inspected": 100},
        {"cause": "BUR", "rejected": 3},
    )
    assert found[["cause", "inspected", "rejected"]].to_numpy().tolist() == [["BUR", 300, 9], ["SCR", 300, 2]]
    assert found["rate"].tolist() == pytest.approx([0.03, 2 / 300])
    assert (found["rate_low"] < found["rate"]).all()
    assert (found["rate"] < found["rate_high"]).all()


def test_9_of_300_has_the_wilson_interval_1_59_to_5_60_per_cent() -> None:
    # z = 1.96: centre (0.03 + z^2/600) / (1 + z^2/300) = 0.03594, half width
    # z sqrt(0.03 x 0.97 / 300 + z^2 / (4 x 300^2)) / (1 + z^2/300) = 0.02008.
    row = table({"inspected": 300}, {"cause": "BUR", "rejected": 9}).iloc[0]
    assert row["rate_low"] == pytest.approx(0.01586, abs=2e-5)
    assert row["rate_high"] == pytest.approx(0.05602, abs=2e-5)


def test_clean_look_keeps_a_row_without_a_cause_and_an_upper_bound() -> None:
    row = table({"inspected": 200}).iloc[0]
    assert (row["cause"], row["rejected"], row["rate"]) == ("", 0, 0)
    assert 0 < row["rate_high"] < 0.02


def test_kinds_coils_and_shifts_are_not_mixed() -> None:
    found = table(
        {"inspected": 200}, {"inspected": 10, "kind": "sample"}, {"inspected": 50, "shift": "late"}, {"inspected": 5}
    )
    cells = found[["shift", "kind", "inspected"]].to_numpy().tolist()
    assert cells == [["early", "full", 205], ["early", "sample", 10], ["late", "full", 50]]


def test_denominator_of_a_tub_whose_pieces_nobody_knows_is_empty_and_so_is_the_rate() -> None:
    row = table({"cause": "BUR", "rejected": 4, "kind": "tub", "die_id": ""}).iloc[0]
    assert row["rejected"] == 4
    assert all(pd.isna(row[name]) for name in ("inspected", "rate", "rate_low", "rate_high"))


def test_a_look_at_0_pieces_is_a_known_0_with_no_rate() -> None:
    for row in (table({"inspected": 0}).iloc[0], table({"inspected": 0, "kind": "tub"}).iloc[0]):
        assert row["inspected"] == 0
        assert all(pd.isna(row[name]) for name in ("rate", "rate_low", "rate_high"))


def test_rate_is_not_known_where_more_was_rejected_than_inspected() -> None:
    assert pd.isna(table({"inspected": 3}, {"cause": "BUR", "rejected": 4}).iloc[0]["rate"])


def test_one_spread_count_marks_its_cell() -> None:
    found = table({"inspected": 5, "kind": "tub", "spread": 1}, {"cause": "BUR", "rejected": 1, "kind": "tub"})
    assert found["spread"].tolist() == [True]


def test_reworked_pieces_are_no_scrap_but_keep_their_cause() -> None:
    row = table({"inspected": 50}, {"cause": "BUR", "rejected": 0, "reworked": 5}).iloc[0]
    assert (row["cause"], row["rejected"]) == ("BUR", 0)


def test_no_inspections_give_no_rows() -> None:
    assert table().empty
