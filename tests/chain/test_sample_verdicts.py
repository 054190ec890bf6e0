"""The verdicts on the sample plant: what was planted acts, and everything else is silent."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest

from monitor.figures import figure
from monitor.figures.judgement.bench import case
from monitor.figures.judgement.look import look
from monitor.figures.judgement.proof import Proofs
from monitor.ledger import Ledger
from monitor.load.files import load

SAMPLES = Path(__file__).parents[2] / "sample_runs"
TRUTH = SAMPLES / "fortnight_truth"
PLANTED = tomllib.loads((TRUTH / "planted.toml").read_text("utf-8"))["fault"]


@pytest.fixture(scope="module")
def ledger(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ledger]:
    with Ledger.open(tmp_path_factory.mktemp("sample") / "ledger", create=True) as ledger:
        load([SAMPLES / "fortnight"], ledger)
        yield ledger


@pytest.fixture(scope="module")
def suspects(ledger: Ledger) -> pd.DataFrame:
    return figure(ledger, "suspects")


def test_what_was_planted_acts_and_nothing_else_does(suspects: pd.DataFrame) -> None:
    given = suspects[suspects["verdict"].isin(["acts", "tied"])]
    planted = {(fault["die_id"], fault["cause"], fault["factor"]) for fault in PLANTED if "factor" in fault}
    assert set(given[["die_id", "cause", "factor"]].itertuples(index=False, name=None)) == planted
    assert len(given) == len(planted) == 3
    assert (given["false_alarm"] < 0.001).all()


def test_every_cause_that_was_found_gets_an_answer(ledger: Ledger, suspects: pd.DataFrame) -> None:
    scrap = figure(ledger, "scrap")
    speaking = scrap[(scrap["rejected"] > 0) & (scrap["die_id"] != "") & ~scrap["spread"]]
    asked = set(speaking[["die_id", "cause"]].itertuples(index=False, name=None))
    assert len(asked) == 12
    assert set(suspects[["die_id", "cause"]].itertuples(index=False, name=None)) == asked


def test_the_bad_lot_is_named_with_how_bad_and_where_to_look(suspects: pd.DataFrame) -> None:
    (fault,) = [fault for fault in PLANTED if fault.get("factor") == "lot"]
    (line,) = suspects[(suspects["verdict"] == "acts") & (suspects["factor"] == "lot")].to_dict("records")
    assert line["level"] == fault["level"]
    assert line["ratio_low"] <= fault["times"] <= line["ratio_high"]
    # Bends first, as the plant book names them first for the cause; the form after them.
    assert line["stations"] == "7;9;6"
    # The lot was one heat of its own, which nothing on a press can tell from it.
    assert line["tied_with"] == "heat: H-2207"
    assert 0 < line["explained_low"] < line["pieces_explained"] < line["explained_high"] < line["rejected"]


def test_asking_for_one_die_changes_no_number(ledger: Ledger, suspects: pd.DataFrame) -> None:
    alone = figure(ledger, "suspects", die="D-120")
    pd.testing.assert_frame_equal(alone, suspects[suspects["die_id"] == "D-120"].reset_index(drop=True))


def test_strokes_since_sharpening_are_exact_and_empty_before_the_first_entry(ledger: Ledger) -> None:
    service = figure(ledger, "service")
    truth = pd.read_csv(TRUTH / "service.csv").set_index("die_id")
    # D-101 had station 3 ground and an insert of station 7 changed; its other edges have no history.
    own = service[~service["station"].isin([3, 7]) | (service["die_id"] != "D-101")]
    for die_id, rows in own[own["die_id"].isin(truth.index)].groupby("die_id"):
        expected = truth.loc[die_id]
        assert (rows["sharpen_every_strokes"] == expected["sharpen_every_strokes"]).all()
        if pd.isna(expected["strokes_since_sharpening"]):
            assert rows["strokes_since_sharpening"].isna().all()
            assert (rows["expected_due_at"] == "").all()
        else:
            assert (rows["strokes_since_sharpening"] == int(expected["strokes_since_sharpening"])).all()
            assert (rows["expected_due_at"] > "2026-10-31").all()
    assert {3, 7} == set(
        service.loc[service["strokes_since_sharpening"].notna() & (service["die_id"] == "D-101"), "station"]
    )


def test_a_sharpening_that_is_worth_less_pays_sooner(ledger: Ledger) -> None:
    intervals = [
        figure(ledger, "service", die="D-120", sharpening_pieces=pieces)["economic_interval"].min()
        for pieces in (500, 2000)
    ]
    assert 100_000 < intervals[0] < intervals[1] < 350_000
    assert figure(ledger, "service", die="D-131")["economic_interval"].isna().all()


def test_wear_rises_where_it_was_planted_and_counts_every_reject_of_a_known_edge(ledger: Ledger) -> None:
    wear = figure(ledger, "wear", die="D-120")
    burrs = wear[wear["cause"] == "BUR"]
    assert burrs["rate"].iloc[-1] > 4 * burrs["rate"].iloc[0]
    assert (burrs["rate_low"] <= burrs["rate"]).all()
    assert (burrs["rate"] <= burrs["rate_high"]).all()
    assert (burrs["strokes_from"].iloc[1:].to_numpy() >= burrs["strokes_to"].iloc[:-1].to_numpy()).all()
    assert figure(ledger, "wear", die="D-114").empty


def test_a_press_and_a_range_narrow_what_is_looked_at(ledger: Ledger) -> None:
    early = figure(ledger, "suspects", from_="2026-10-19", to="2026-10-21", die="D-114")
    assert set(early["verdict"]) <= {"clear", "not_enough"}
    assert "LOT-0417" not in set(early["level"])
    assert figure(ledger, "suspects", press="P5")["die_id"].drop_duplicates().tolist() == ["D-141"]


def test_capability_has_a_row_for_each_press_a_characteristic_was_measured_on(ledger: Ledger) -> None:
    capability = figure(ledger, "capability")
    assert {("B-7", "P1"), ("B-7", "P2")} <= set(capability[["part_no", "press_id"]].itertuples(index=False, name=None))
    assert (capability["cpk_low"] < capability["cpk"]).all()


def test_every_line_has_its_rows_and_they_count_the_same_pieces(ledger: Ledger) -> None:
    seen = look(ledger.snapshot())
    for die_id, cause in dict.fromkeys((line.die_id, line.cause) for line in seen.lines):
        shown = case(seen, die_id, cause)
        proofs = Proofs(shown.rows)
        for line in shown.lines:
            told = proofs.of(line.explanation, line.tied_with)
            assert told is not None, line
            assert (told.bad_inspected, told.bad_rejected) == (line.inspected, line.rejected), line
