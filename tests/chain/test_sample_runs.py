"""The product on the sample plant: what was planted must come out, to the stroke, the second and the piece."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest

from monitor.figures import figure
from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.reckoning.press.stops import NO_REASON
from shared.reasons.kept import recalled
from shared.words import LANGUAGES, words

SAMPLES = Path(__file__).parents[2] / "sample_runs"
TRUTH = SAMPLES / "fortnight_truth"
SHIFT = ["shift_date", "shift", "press_id", "die_id", "part_no"]


@pytest.fixture(scope="module")
def ledger(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ledger]:
    with Ledger.open(tmp_path_factory.mktemp("sample") / "ledger", create=True) as ledger:
        report = load([SAMPLES / "fortnight"], ledger)
        assert not [file for file in report.files if file.refused or file.set_aside]
        yield ledger


def truth(name: str) -> pd.DataFrame:
    return pd.read_csv(TRUTH / f"{name}.csv", keep_default_na=False, na_values={})


def test_every_shift_of_the_fortnight_is_exact(ledger: Ledger) -> None:
    expected, found = truth("shifts"), figure(ledger, "shifts")
    both = expected.merge(found, on=SHIFT, how="outer", suffixes=("_truth", ""), indicator=True)
    assert (both["_merge"] == "both").all(), both.loc[both["_merge"] != "both", SHIFT]
    for name in expected.columns.drop(SHIFT):
        planted = pd.to_numeric(both[f"{name}_truth"]).fillna(-1).astype(float)
        wrong = both[(both[name].astype(float).fillna(-1) - planted).abs() > 1e-6]
        assert wrong.empty, wrong[[*SHIFT, f"{name}_truth", name]]


def test_the_hours_of_the_fortnight_add_up_to_the_counters(ledger: Ledger) -> None:
    expected, found = truth("hours"), figure(ledger, "hours")
    key = ["hour_start", "press_id", "die_id", "part_no"]
    both = expected.merge(found, on=key, how="left", suffixes=("_truth", ""), indicator=True)
    assert (both["_merge"] == "both").all()
    for name in ("strokes", "pieces"):
        assert (both[name].fillna(-1) == pd.to_numeric(both[f"{name}_truth"]).fillna(-1)).all()
    assert found["strokes"].sum() == figure(ledger, "shifts")["strokes"].sum()


def test_every_mounting_of_the_fortnight_is_exact(ledger: Ledger) -> None:
    key = ["coil_id", "press_id", "mounted_at"]
    both = truth("coils").merge(figure(ledger, "coils"), on=key, how="outer", suffixes=("_truth", ""), indicator=True)
    assert (both["_merge"] == "both").all()
    for name in ("strokes", "pieces", "unfinished", "setup_pieces"):
        assert (both[name] == both[f"{name}_truth"]).all(), name
    bought = both[both["start_kg_truth"] != ""]
    for name in ("used_m", "used_kg", "start_kg", "remaining_kg"):
        planted = bought[f"{name}_truth"].to_numpy(float)
        assert bought[name].to_numpy(float) == pytest.approx(planted, rel=1e-4, abs=0.01)


def test_clips_of_two_dies_weigh_once(ledger: Ledger) -> None:
    made = truth("shifts").query("die_id == 'D-141'")
    coils = figure(ledger, "coils")
    wound = coils[coils["press_id"].isin(["P4", "P5"])]
    # A clip weighs 3.6 g.
    assert wound["good_kg"].sum() == pytest.approx(0.0036 * made[["good", "reworked"]].sum().sum())
    weighed = coils[coils["start_kg"].notna()]
    parts = ["good_kg", "skeleton_kg", "unfinished_kg", "setup_kg", "rejected_kg", "remaining_kg", "difference_kg"]
    assert weighed["start_kg"].to_numpy(float) == pytest.approx(weighed[parts].sum(axis=1).to_numpy(float))


def test_standing_time_by_reason_is_what_was_planted(ledger: Ledger) -> None:
    key = ["press_id", "shift_date", "shift", "reason"]
    expected = truth("stops").replace({"reason": {"": NO_REASON}})
    expected = expected[expected["planned_s"] > 0].groupby(key)["planned_s"].sum()
    found = figure(ledger, "stops")
    found = found[~found["planned"]].groupby(key)["seconds"].sum()
    assert len(expected) > 700
    pd.testing.assert_series_equal(found, expected, check_names=False, check_dtype=False)


def test_the_dirty_drop_is_accounted_for_row_by_row(tmp_path: Path) -> None:
    expected = tomllib.loads((SAMPLES / "dirty" / "expected.toml").read_text("utf-8"))
    with Ledger.open(tmp_path / "ledger", create=True) as ledger:
        reports = {drop: load([SAMPLES / "dirty" / drop], ledger) for drop in ("first", "second")}
        aside, loads = figure(ledger, "set_aside"), figure(ledger, "loads")
    assert (loads["read"] == loads[["new", "repeated", "corrected", "set_aside"]].sum(axis=1)).all()
    for told in expected["file"]:
        report = next(file for file in reports[told["drop"]].files if file.file == told["file"])
        for count in ("read", "new", "repeated", "corrected", "set_aside"):
            assert getattr(report, count) == told[count], (told["file"], count)
        for row in told.get("aside", []):
            held = aside[(aside["file"] == told["file"]) & (aside["line"] == row["line"])]
            if row["about"] == "P7":  # Its press came with the second drop, and the row with it.
                assert held.empty
                continue
            assert row["about"].lower() in held["reason"].item().lower(), held["reason"].item()
    assert reports["second"].released == 1
    refused = {file.file for report in reports.values() for file in report.files if file.refused}
    assert refused >= {told["file"] for told in expected.get("refused", [])}
    why = pd.concat([aside[["reason", "code", "values"]], loads.rename(columns={"refused": "reason"})])
    why = why[why["reason"] != ""]
    assert "unclassified" not in set(why["code"])
    for stored, code, values in zip(why["reason"], why["code"], why["values"], strict=True):
        said = [words(language).again(recalled(code, values)) for language in LANGUAGES]
        assert said[0] == stored
        assert len(set(said)) == len(LANGUAGES), stored
        assert not any("expected" in text for text in said[1:]), said
