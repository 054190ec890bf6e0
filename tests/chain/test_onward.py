"""Weight of strip that goes through two dies: counted once, with the coil.

A progression of 60 mm of strip of 0.24 kg a metre weighs 14.4 g, a piece 10 g.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from monitor.figures import figure
from tests.invented.tiny import Tiny, at

PARTS = ["good_kg", "skeleton_kg", "unfinished_kg", "setup_kg", "rejected_kg", "remaining_kg", "difference_kg"]


def plant_of(folder: Path, until: str = "08:20") -> Tiny:
    """A coil of 100 kg through die D on P from 06:00 for 1,200 strokes, wound onto R, and from 08:00 through E on Q."""
    plant = Tiny(folder, pitch_mm=60)
    plant.add("presses", press_id="Q", rated_spm=200)
    plant.die("E", 1, 60)
    plant.add("routes", part_no="N", step=2, die_id="E")
    plant.coil("C", weight_kg=100)
    plant.set_die(at("06:00"))
    plant.change(at("06:00"), "mount", "C")
    plant.run(at("06:00"), at("06:20"))
    plant.add("reels", reel_id="R", press_id="P", started_at=at("06:00"), ended_at=at("06:20"))
    if until > "08:00":
        plant.set_die(at("08:00"), "E", press="Q")
        plant.change(at("08:00"), "mount", "R", press="Q")
        plant.run(at("08:00"), at(until), press="Q")
    return plant


def row_of(plant: Tiny, coil: str) -> pd.Series:
    """The row of a coil or reel in the figure, which closes where it can."""
    coils = figure(plant.ledger, "coils")
    known = coils[coils["start_kg"].notna()]
    assert known["start_kg"].tolist() == pytest.approx(known[PARTS].sum(axis=1).tolist())
    (row,) = [row for _, row in coils.iterrows() if row["coil_id"] == coil]
    return row


def test_good_pieces_of_the_second_die_weigh_once_with_the_coil(tmp_path: Path) -> None:
    plant = plant_of(tmp_path)
    # 20 of the finished pieces are rejected.
    plant.look("I", at("08:30"), "full", 1200, 20, made_from=at("08:00"), made_to=at("08:20"))
    plant.rows["inspections"][-1]["press_id"] = "Q"
    plant.load()
    coil, reel = row_of(plant, "C"), row_of(plant, "R")
    # 1,200 strokes of 60 mm are 72 m, 17.28 kg; 1,180 good pieces are 11.8 kg, 20 rejected ones 0.2 kg.
    assert coil["used_kg"] == pytest.approx(17.28)
    assert (coil["good_kg"], coil["rejected_kg"], coil["setup_kg"]) == (pytest.approx(11.8), pytest.approx(0.2), 0)
    assert coil["unfinished_kg"] == pytest.approx(0)
    assert coil["skeleton_kg"] == pytest.approx(17.28 - 12)
    assert coil["coil_yield"] == pytest.approx(11.8 / 17.28)
    assert coil["remaining_kg"] == pytest.approx(100 - 17.28)
    assert reel[["good_kg", "rejected_kg", "setup_kg", "skeleton_kg", "unfinished_kg", "coil_yield"]].isna().all()
    # The counts are those of either die.
    assert (coil["pieces"], coil["good"], reel["pieces"], reel["good"]) == (1200, 1200, 1200, 1180)
    assert figure(plant.ledger, "coils")["good_kg"].sum() == pytest.approx(11.8)


def test_strip_that_has_not_come_through_the_second_die_is_unfinished_and_has_no_yield_yet(tmp_path: Path) -> None:
    plant = plant_of(tmp_path, until="08:05")
    plant.load()
    coil = row_of(plant, "C")
    # 300 of 1,200 are finished, 900 lie on the reel: 3 and 9 kg.
    assert (coil["good_kg"], coil["unfinished_kg"]) == (pytest.approx(3), pytest.approx(9))
    assert pd.isna(coil["coil_yield"])
    (held,) = figure(plant.ledger, "coil_ledger").to_dict("records")
    assert held["good_kg"] == pytest.approx(3)
    assert pd.isna(held["coil_yield"])


def test_strip_wound_up_and_not_fed_on_yet_is_no_good_piece(tmp_path: Path) -> None:
    plant = plant_of(tmp_path, until="")
    plant.load()
    coil = row_of(plant, "C")
    assert (coil["good_kg"], coil["unfinished_kg"]) == (0, pytest.approx(12))
    assert (coil["pieces"], coil["good"]) == (1200, 1200)


def test_what_the_first_die_rejected_is_the_first_that_does_not_go_on(tmp_path: Path) -> None:
    plant = plant_of(tmp_path, until="08:19")
    plant.look("I", at("06:30"), "full", 1200, 50, made_from=at("06:00"), made_to=at("06:20"))
    plant.load()
    coil = row_of(plant, "C")
    # 1,140 came through: 60 did not, 50 of which had been rejected.
    assert (coil["good_kg"], coil["rejected_kg"], coil["unfinished_kg"]) == (
        pytest.approx(11.4),
        pytest.approx(0.5),
        pytest.approx(0.1),
    )


def test_a_reel_whose_strip_nobody_knows_keeps_its_own_weight(tmp_path: Path) -> None:
    plant = plant_of(tmp_path)
    plant.rows["reels"][-1] |= {"started_at": at("05:00"), "ended_at": at("05:30")}
    plant.load()
    reel = row_of(plant, "R")
    assert reel["good_kg"] == pytest.approx(12)
    assert row_of(plant, "C")["good_kg"] == 0
