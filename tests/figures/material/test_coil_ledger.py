"""The coil ledger over small plants, yields over a few rows of the coils figure."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from monitor.figures import FIGURES, ask, figure
from monitor.figures.material.coil_ledger import unspent_coils
from monitor.figures.material.yields import yields
from tests.invented.tiny import Tiny, at


def coils(*rows: tuple[str, str, float, float, float]) -> pd.DataFrame:
    table = pd.DataFrame(list(rows), columns=["coil_id", "lot", "used_kg", "skeleton_kg", "good_kg"])
    return table.assign(coil_yield=table["good_kg"] / table["used_kg"])


def test_yield_is_good_per_strip_used_and_says_what_was_not_weighed() -> None:
    table = yields(
        coils(("A", "L1", 100, 20, 70), ("B", "L1", 50, 10, 20), ("C", "L2", np.nan, np.nan, np.nan)), ["lot"]
    ).set_index("lot")
    assert table.loc["L1", "coil_yield"] == pytest.approx(90 / 150)
    assert table.loc["L1", "of_possible"] == pytest.approx(90 / 120)
    assert table.loc["L1", ["coils", "mountings"]].tolist() == [2, 2]
    assert table.loc["L2", ["mountings", "unweighed"]].tolist() == [1, 1]
    assert np.isnan(table.loc["L2", "coil_yield"])


def test_strip_that_waits_for_another_die_has_no_yield_yet() -> None:
    both = coils(("A", "L1", 100, 20, 70), ("B", "L1", 50, 10, 0))
    both.loc[1, "coil_yield"] = np.nan
    table = yields(both, ["lot"])
    assert table.loc[0, ["coil_yield", "mountings", "unweighed"]].tolist() == [0.7, 2, 1]


def test_the_interval_of_a_yield_is_that_of_a_ratio_and_one_mounting_has_none() -> None:
    # Residuals 70 - 60 and 20 - 30: sqrt((100 + 100) * 2 / 1) / 150, times t of one degree of freedom, 12.706.
    table = yields(coils(("A", "L1", 100, 0, 70), ("B", "L1", 50, 0, 20), ("C", "L2", 10, 0, 5)), ["lot"])
    low, high = table.loc[0, ["coil_yield_low", "coil_yield_high"]]
    assert (low, high) == (0, 1)
    tight = yields(coils(("A", "L1", 100, 0, 60.1), ("B", "L1", 50, 0, 29.9)), ["lot"]).loc[0]
    assert tight["coil_yield_high"] - 0.6 == pytest.approx(12.7062 * np.sqrt(0.02 * 2) / 150, rel=1e-4)
    assert np.isnan(table.loc[1, "coil_yield_low"])
    assert table.loc[1, "coil_yield"] == 0.5


@pytest.fixture
def plant(tmp_path):
    one = Tiny(tmp_path)
    one.coil("C1", weight_kg=1000)
    one.coil("C2", weight_kg=900)
    one.coil("STORE", weight_kg=800)
    one.set_die(at("06:00"))
    one.change(at("06:00"), "mount", "C1")
    yield one
    one.ledger.close()


def account(plant: Tiny, coil: str, **asked: str) -> dict[str, object]:
    table = figure(plant.ledger, "coil_ledger", **asked)
    return table.set_index("coil_id").loc[coil].to_dict()


def test_a_coil_on_two_mountings_is_one_account_that_closes(plant: Tiny) -> None:
    plant.run(at("06:00"), at("06:10"))
    # 600 strokes of 30 mm at 0.24 kg a metre are 4.32 kg.
    plant.change(at("06:10"), "remove", "C1", weight_kg=996)
    plant.change(at("07:00"), "mount", "C1")
    plant.run(at("07:00"), at("07:05"))
    plant.load()
    row = account(plant, "C1")
    assert (row["mountings"], row["state"], row["press_id"], row["finding"]) == (2, "on press", ("P",), "not weighed")
    assert row["used_kg"] == pytest.approx(900 * 0.03 * 0.24)
    assert row["left_kg"] == pytest.approx(996 - 300 * 0.03 * 0.24)
    assert row["difference_kg"] == pytest.approx(1000 - 4.32 - 996)
    assert row["left_m"] == pytest.approx(row["left_kg"] / 0.24)
    table = figure(plant.ledger, "coil_ledger")
    ((whole, parts),) = FIGURES["coil_ledger"].closes
    assert table[whole].tolist() == pytest.approx(table[list(parts)].sum(axis=1).tolist())


def test_never_used_coils_are_listed_unless_a_range_or_filter_is_asked_for(plant: Tiny) -> None:
    plant.run(at("06:00"), at("06:10"))
    plant.load()
    row = account(plant, "STORE")
    assert (row["state"], row["mountings"], row["left_kg"], row["used_kg"]) == ("in store", 0, 800, 0)
    for asked in ({"from_": "2026-11-02"}, {"press": "P"}, {"die": "D"}):
        assert figure(plant.ledger, "coil_ledger", **asked)["coil_id"].tolist() == ["C1"]
    assert figure(plant.ledger, "coil_ledger", press="P9").empty


def test_a_difference_names_the_likeliest_input_with_its_chance_and_what_it_would_need(plant: Tiny) -> None:
    # 10 h at 60 strokes a minute: 36,000 strokes, 259.2 kg by the book; 285 kg are gone by the scale.
    plant.run(at("06:00"), at("16:00"), every_s=600)
    plant.change(at("16:00"), "remove", "C1", weight_kg=715)
    plant.load()
    row = account(plant, "C1")
    assert (row["finding"], row["likeliest"], row["entered"]) == ("not explained", "thickness_mm", 1.0)
    assert row["difference_kg"] == pytest.approx(25.8)
    assert row["needed"] == pytest.approx(285 / 259.2)
    # Two weighings that may be out by 2 kg each.
    assert row["needed_high"] - row["needed"] == pytest.approx(np.hypot(2, 2) / 259.2)
    assert 0.5 < row["chance"] < 1


def test_what_scales_and_thickness_explain_is_said_so(plant: Tiny) -> None:
    plant.run(at("06:00"), at("16:00"), every_s=600)
    plant.change(at("16:00"), "remove", "C1", weight_kg=743)
    plant.load()
    row = account(plant, "C1")
    assert (row["finding"], row["likeliest"]) == ("explained", "")
    assert row["explained_kg"] > abs(row["difference_kg"])
    # Next to nothing left is a coil used up, not one in store.
    assert row["state"] == "in store"


def test_a_coil_with_next_to_nothing_left_is_used_up(plant: Tiny) -> None:
    plant.run(at("06:00"), at("06:10"))
    plant.change(at("06:10"), "splice", "C2")
    plant.change(at("06:10:30"), "remove", "C1", weight_kg=12)
    plant.run(at("06:10"), at("06:12"))
    plant.load()
    assert [account(plant, coil)["state"] for coil in ("C1", "C2")] == ["used up", "on press"]


def test_strip_beyond_a_coils_length_is_judged_as_used_and_the_part_tells_the_wrong_thickness(tmp_path) -> None:
    plant = Tiny(tmp_path)
    plant.rows["parts"] = [{"part_no": "N", "net_weight_g": 2, "thickness_mm": 1.0}]
    # Entered twice as thick: 100 kg of 0.48 kg a metre are 208 m, and 400 m were used.
    plant.add("coils", coil_id="C", lot="L", material="steel", width_mm=30, thickness_mm=2, weight_kg=100)
    plant.set_die(at("06:00"))
    plant.change(at("06:00"), "mount", "C")
    plant.run(at("06:00"), at("09:42:14"), every_s=600)
    plant.change(at("09:42:14"), "remove", "C", weight_kg=4)
    plant.load()
    row = account(plant, "C")
    assert row["overrun_m"] > 150
    assert (row["finding"], row["likeliest"], row["entered"]) == ("not explained", "thickness_mm", 2.0)
    assert row["needed"] == pytest.approx(1.0, rel=0.01)
    assert row["chance"] > 0.9
    plant.ledger.close()


def test_coils_not_used_up_are_those_of_the_whole_ledger_that_are_not(plant: Tiny) -> None:
    plant.run(at("06:00"), at("06:10"))
    plant.change(at("06:10"), "splice", "C2")
    plant.change(at("06:10:30"), "remove", "C1", weight_kg=12)
    plant.run(at("06:10"), at("06:12"))
    plant.change(at("06:12"), "remove", "C2", weight_kg=300)
    plant.load()
    whole = ask(plant.ledger.snapshot(), "coil_ledger")
    some = unspent_coils(plant.ledger.snapshot())
    assert set(some["coil_id"]) == {"C2", "STORE"} == set(whole.loc[whole["state"] != "used up", "coil_id"])
    wanted = whole[whole["coil_id"].isin(some["coil_id"])].sort_values("coil_id").reset_index(drop=True)
    pd.testing.assert_frame_equal(some.sort_values("coil_id").reset_index(drop=True), wanted)
