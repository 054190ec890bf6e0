"""Rechecks from files to figures: a press that strokes once a second, 3,600 pieces from 06:00 to 07:00."""

from __future__ import annotations

import datetime as dt
from itertools import permutations
from pathlib import Path

import pytest

from monitor.figures import figure
from monitor.figures.judgement.look import evidence
from tests.invented.tiny import DAY, Tiny, at

LATER = DAY + dt.timedelta(days=4)


def plant_of(folder: Path) -> Tiny:
    """The press with its pieces, nothing looked at."""
    plant = Tiny(folder)
    plant.set_die(at("06:00"))
    plant.coil("C1")
    plant.change(at("06:00"), "mount", "C1")
    plant.run(at("06:00"), at("07:00"))
    return plant


def sort(plant: Tiny) -> None:
    """All 500 pieces made from 06:30:00 to 06:38:20 are sorted: 8 burrs and 2 scratches."""
    made = {"made_from": at("06:30"), "made_to": at("06:38:20")}
    plant.look("F", at("08:00"), "full", 500, 8, **made)
    plant.add("inspections", inspection_id="F", time=at("08:00"), press_id="P", kind="full", inspected=500,
              cause="SCR", rejected=2, **made)  # fmt: skip
    plant.add("causes", cause="SCR", operations="form")


def counts(plant: Tiny) -> tuple[int, int]:
    """Rejected and good pieces of the plant."""
    shifts = figure(plant.ledger, "shifts")
    assert (shifts["pieces"] == shifts[["good", "reworked", "rejected", "setup_pieces"]].sum(axis=1)).all()
    return int(shifts["rejected"].sum()), int(shifts["good"].sum())


def test_clean_sample_of_20_leaves_the_10_of_the_sort(tmp_path: Path) -> None:
    plant = plant_of(tmp_path)
    sort(plant)
    plant.look("G", at("09:00"), "sample", 20, 0, rechecks="F")
    plant.load()
    assert counts(plant) == (10, 3590)
    scrap = figure(plant.ledger, "scrap").set_index("cause")
    # Of 500 pieces in the sort, not of 520.
    assert scrap.loc[["BUR", "SCR"], ["kind", "inspected", "rejected"]].to_numpy().tolist() == [
        ["full", 500, 8],
        ["full", 500, 2],
    ]


def test_4_of_the_10_rejected_looked_at_again_of_which_1_is_bad_leave_7(tmp_path: Path) -> None:
    plant = plant_of(tmp_path)
    sort(plant)
    plant.look("G", at("09:00"), "full", 4, 1, rechecks="F", scope="rejected")
    plant.load()
    # 10 - 4 + 1; the 3 good ones come off 7 burrs and 2 scratches as 2 and 1.
    assert counts(plant) == (7, 3593)
    scrap = figure(plant.ledger, "scrap")
    assert dict(zip(scrap["cause"], scrap["rejected"], strict=True)) == {"BUR": 6, "SCR": 1}
    assert set(scrap["inspected"]) == {500}


def test_evidence_for_the_verdict_counts_the_pieces_of_the_sort_once(tmp_path: Path) -> None:
    plant = plant_of(tmp_path)
    sort(plant)
    plant.look("G", at("09:00"), "full", 4, 1, rechecks="F", scope="rejected")
    plant.look("H", at("10:00"), "full", 490, 3, rechecks="F", scope="passed")
    plant.load()
    rows, _ = evidence(plant.ledger.snapshot(), "D")
    # 7 after the first recheck, 3 burrs more after the second, of the same 500 pieces.
    assert (rows["inspected"].sum(), rows["found_BUR"].sum(), rows["found_SCR"].sum()) == (500, 9, 1)


def test_sort_of_the_box_that_a_sample_led_to_is_booked_to_the_box_and_once(tmp_path: Path) -> None:
    plant = plant_of(tmp_path)
    plant.box("B", at("06:30"), at("06:38:20"))
    plant.look("F", at("06:35"), "sample", 5, 1)
    plant.look("G", at("09:00"), "full", 500, 12, rechecks="F", container_id="B")
    plant.load()
    assert counts(plant) == (12, 3588)
    (row,) = figure(plant.ledger, "exposure").to_dict("records")
    assert row["found_at"].startswith("2026-11-02T09:00")
    rows, _ = evidence(plant.ledger.snapshot(), "D")
    assert (rows["inspected"].sum(), rows["found_BUR"].sum()) == (500, 12)


def test_sample_that_a_sort_holds_is_no_evidence_but_what_it_used_up_is_gone(tmp_path: Path) -> None:
    plant = plant_of(tmp_path)
    plant.box("B", at("06:30"), at("06:38:20"))
    plant.look("E", at("06:20"), "sample", 5, 0)
    plant.look("F", at("06:35"), "sample", 5, 1, used_up=2)
    plant.look("G", at("09:00"), "full", 500, 12, rechecks="F", container_id="B")
    plant.load()
    assert counts(plant) == (12, 3586)
    (row,) = figure(plant.ledger, "exposure").to_dict("records")
    # The last good check is the sample of 06:20, not the one that the sort took in.
    assert row["last_good_at"].startswith("2026-11-02T06:20")
    rows, _ = evidence(plant.ledger.snapshot(), "D")
    assert sorted(set(rows["inspection_id"])) == ["E", "G"]


def _first(plant: Tiny) -> None:
    sort(plant)


def _second(plant: Tiny) -> None:
    plant.look("G", at("09:00", LATER), "full", 10, 4, rechecks="F", scope="rejected")


def _third(plant: Tiny) -> None:
    plant.look("H", at("09:00", LATER + dt.timedelta(days=6)), "full", 4, 1, rechecks="G", scope="rejected")
    plant.add("dispositions", disposition_id="X", inspection_id="H", cause="BUR",
              time=at("10:00", LATER + dt.timedelta(days=6)), outcome="rework", pieces=1)  # fmt: skip


@pytest.mark.parametrize("order", list(permutations((_first, _second, _third))))
def test_looks_loaded_one_by_one_in_any_order_give_the_same(tmp_path: Path, order: tuple[object, ...]) -> None:
    plant = plant_of(tmp_path)
    # A look a day keeps the days of the looks apart.
    for days in range(9):
        plant.look(f"D{days}", at("07:00", DAY + dt.timedelta(days=days)), "sample", 1, 0)
    plant.load()
    for step in order:
        step(plant)  # type: ignore[operator]
        plant.load()
    # 4 of the 10 are still bad, of these one, and that one is mended.
    assert counts(plant) == (0, 3599)
    scrap = figure(plant.ledger, "scrap")
    assert scrap.loc[scrap["kind"] == "full", "inspected"].tolist() == [500]
    assert set(scrap["press_id"]) == {"P"}


def test_looks_that_name_each_other_are_both_counted(tmp_path: Path) -> None:
    plant = plant_of(tmp_path)
    plant.look("F", at("06:20"), "full", 100, 3, made_from=at("06:10"), made_to=at("06:11:40"), rechecks="G")
    plant.look("G", at("06:50"), "full", 100, 4, made_from=at("06:40"), made_to=at("06:41:40"), rechecks="F")
    plant.load()
    assert counts(plant) == (7, 3593)


def test_recheck_on_another_press_is_of_the_pieces_of_the_first(tmp_path: Path) -> None:
    plant = plant_of(tmp_path)
    plant.add("presses", press_id="Q", rated_spm=200)
    sort(plant)
    plant.look("G", at("09:00"), "full", 10, 4, rechecks="F", scope="rejected")
    plant.rows["inspections"][-1]["press_id"] = "Q"
    plant.load()
    assert counts(plant) == (4, 3596)
    assert set(figure(plant.ledger, "scrap")["press_id"]) == {"P"}


def test_sort_after_a_sample_is_of_the_pieces_that_the_sample_was_of(tmp_path: Path) -> None:
    plant = plant_of(tmp_path)
    plant.run(at("07:00"), at("08:00"))
    plant.look("F", at("06:40"), "sample", 5, 1, made_from=at("06:30"), made_to=at("06:35"))
    # 300 pieces left the press in those five minutes; the last 300 before the sort did so after 07:55.
    plant.look("G", at("09:00"), "full", 300, 12, rechecks="F", scope="all")
    plant.load()
    hours = figure(plant.ledger, "hours").set_index("hour_start")
    assert {start[11:13]: count for start, count in hours["rejected"].items()} == {"06": 12, "07": 0}


@pytest.mark.parametrize("made", [{}, {"made_from": at("06:49:50"), "made_to": at("06:50")}])
def test_sort_of_more_than_the_sample_was_of_takes_in_what_was_made_before_it(
    tmp_path: Path, made: dict[str, object]
) -> None:
    plant = plant_of(tmp_path)
    plant.coil("C2")
    plant.change(at("06:40"), "mount", "C2")
    plant.run(at("07:00"), at("08:00"))
    plant.look("F", at("06:50"), "sample", 5, 1, **made)
    # 900 pieces up to 06:50 are 300 of C1, from 06:35 to 06:40, and 600 of C2: of 12 bad ones 4 and 8.
    plant.look("G", at("09:00"), "full", 900, 12, rechecks="F")
    plant.load()
    coils = figure(plant.ledger, "coils").set_index("coil_id")
    assert coils["rejected"].to_dict() == {"C1": 4, "C2": 8}
    scrap = figure(plant.ledger, "scrap").set_index(["coil_id", "cause"])
    assert scrap["inspected"].to_dict() == {("C1", "BUR"): 300, ("C2", "BUR"): 600}
