"""Coil, die or run?  The three faults planted in the sample fortnight are found and named, and nothing else is."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator

import pandas as pd
import pytest

from monitor.figures import figure
from monitor.ledger import Ledger
from monitor.loading import load
from tests.test_sample_runs import SAMPLES, TRUTH, truth


@pytest.fixture(scope="module")
def ledger(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ledger]:
    with Ledger.open(tmp_path_factory.mktemp("verdicts") / "ledger", create=True) as ledger:
        load([SAMPLES / "fortnight"], ledger)
        yield ledger


def test_what_was_planted_acts_and_nothing_else(ledger: Ledger) -> None:
    faults = tomllib.loads((TRUTH / "planted.toml").read_text("utf-8"))["fault"]
    planted = {(f["die_id"], f["cause"]): f for f in faults if "factor" in f}
    suspects = figure(ledger, "suspects")
    acting = suspects[suspects["verdict"].isin(["acts", "tied"])]
    assert {(row.die_id, row.cause): row.factor for row in acting.itertuples()} == {
        key: fault["factor"] for key, fault in planted.items()
    }
    lot = acting[acting["factor"] == "lot"].iloc[0]
    assert lot["level"] == "LOT-0417"
    assert lot["ratio_low"] < planted["D-114", "CRK"]["times"] < lot["ratio_high"]
    assert (acting["false_alarm"] < 0.01).all()


def test_every_cause_that_was_found_has_its_lines(ledger: Ledger) -> None:
    suspects, scrap = figure(ledger, "suspects"), figure(ledger, "scrap")
    found = scrap[(scrap["rejected"] > 0) & (scrap["cause"] != "") & ~scrap["spread"]]
    assert set(zip(suspects["die_id"], suspects["cause"], strict=True)) >= set(
        zip(found["die_id"], found["cause"], strict=True)
    )


def test_wear_rises_only_on_the_die_that_dulls(ledger: Ledger) -> None:
    wear = figure(ledger, "wear", die="D-120")
    burr = wear[wear["cause"] == "BUR"]
    assert burr["rate_low"].iloc[-1] > burr["rate_high"].iloc[1]
    slug = wear[wear["cause"] == "SLG"]
    assert slug["rate_low"].iloc[-1] < slug["rate_high"].iloc[1]


def test_strokes_since_sharpening_are_those_planted(ledger: Ledger) -> None:
    planted = truth("service").set_index("die_id")["strokes_since_sharpening"]
    service = figure(ledger, "service", die="D-120")
    assert len(service) > 1
    # A sharpening between two readings is known to one sampling interval of strokes.
    assert service["strokes_since_sharpening"].to_numpy(float) == pytest.approx(float(planted["D-120"]), abs=60)
    assert figure(ledger, "service", die="D-114")["strokes_since_sharpening"].isna().all()


def test_capability_has_a_row_for_each_part_press_and_die(ledger: Ledger) -> None:
    table = figure(ledger, "capability")
    assert not table.duplicated(["part_no", "characteristic", "press_id", "die_id"]).any()
    assert (table["cpk_low"] <= table["cpk"]).all()
    assert (table["cpk"] <= table["cp"] + 1e-9).all()
    assert pd.isna(table["cp"]).sum() == 0
