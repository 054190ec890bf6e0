"""The sample fortnight as it lies in the repository: its files and its truth agree."""

from __future__ import annotations

import filecmp
import tomllib
from functools import cache
from pathlib import Path

import pandas as pd
import pytest

from sample_runs.simulate import __main__ as simulate
from sample_runs.simulate import dirty

SAMPLES = Path(__file__).parents[2] / "sample_runs"
FORTNIGHT = SAMPLES / "fortnight"
TRUTH = SAMPLES / "fortnight_truth"
TIMES = ("planned_s", "running_s", "stopped_s", "unresolved_s", "setup_s", "extra_run_s")


@cache
def truth(name: str) -> pd.DataFrame:
    # Strokes and time of a die of several parts stand in the row of its first out, and are empty in the others.
    empty = {column: [""] for column in ("strokes", "strokes_without_strip", *TIMES)} if name != "coils" else {}
    return pd.read_csv(TRUTH / f"{name}.csv", keep_default_na=False, na_values=empty)


@cache
def table(name: str) -> pd.DataFrame:
    frames = [
        pd.read_parquet(path) if path.suffix == ".parquet" else pd.read_csv(path, keep_default_na=False)
        for path in sorted(FORTNIGHT.glob(f"{name}*"))
        if path.name.split("-")[0].split(".")[0] == name
    ]
    return pd.concat(frames, ignore_index=True)


def strokes_by_counter(press_id: str) -> int:
    """The strokes of a press straight from its files, which keep their order."""
    paths = sorted(FORTNIGHT.glob(f"strokes-{press_id}-*"))
    frames = [pd.read_parquet(path) if path.suffix == ".parquet" else pd.read_csv(path) for path in paths]
    total, last = 0, None
    for counter in pd.concat(frames)["counter"].tolist():
        if last is not None and counter - last > 5000:
            continue  # one reading far too high
        if last is not None and counter < last:
            total += counter + (1_000_000 - last if press_id == "P1" else 0)
        elif last is not None:
            total += counter - last
        last = counter
    return total


@pytest.mark.parametrize("press_id", ["P1", "P2", "P3", "P4", "P5"])
def test_the_strokes_of_the_truth_are_those_of_the_counter(press_id: str) -> None:
    shifts, hours = truth("shifts"), truth("hours")
    strokes = strokes_by_counter(press_id)
    assert strokes > 250_000
    assert shifts.loc[shifts["press_id"] == press_id, "strokes"].sum() == strokes
    assert hours.loc[hours["press_id"] == press_id, "strokes"].sum() == strokes


def test_the_sums_of_the_truth_close() -> None:
    shifts, coils = truth("shifts"), truth("coils")
    assert (shifts["planned_s"].fillna(0) == shifts[["running_s", "stopped_s", "unresolved_s"]].sum(axis=1)).all()
    assert shifts["unresolved_s"].sum() == 3600  # The gap of one hour in which P4 was busy.
    assert (shifts["pieces"] == shifts[["good", "rejected", "reworked", "setup_pieces"]].sum(axis=1)).all()
    assert shifts["pieces"].sum() == truth("hours")["pieces"].sum() == coils["pieces"].sum()
    fed = (shifts["strokes"] - shifts["strokes_without_strip"]).sum()
    assert fed == coils["strokes"].sum()
    assert (coils["strokes"] >= coils["unfinished"]).all()
    bought = coils[coils["start_kg"] != ""]
    assert (bought["used_kg"].astype(float) < bought["start_kg"].astype(float)).all()


def test_rejected_pieces_are_those_of_the_inspections_less_what_was_decided_later() -> None:
    looked, decided = table("inspections"), table("dispositions")
    shifts = truth("shifts")
    assert looked["rejected"].sum() - decided["pieces"].sum() == shifts["rejected"].sum()
    assert decided.loc[decided["outcome"] == "rework", "pieces"].sum() == shifts["reworked"].sum() > 0


def test_the_night_of_the_clock_change_is_nine_hours_and_the_saturday_run_lies_outside_the_plan() -> None:
    shifts = truth("shifts")
    night = shifts[(shifts["shift_date"] == "2026-10-24") & (shifts["shift"] == "Weekend night")]
    assert night["planned_s"].sum() - night["extra_run_s"].sum() == 9 * 3600 - 1800
    saturday = shifts[(shifts["shift_date"] == "2026-10-24") & (shifts["shift"] == "") & (shifts["press_id"] == "P1")]
    assert (saturday["planned_s"].dropna() == saturday["extra_run_s"].dropna()).all()
    assert saturday["running_s"].sum() > 3 * 3600


def test_the_repeated_hour_stands_twice_in_the_file_without_offsets() -> None:
    times = pd.read_csv(FORTNIGHT / "strokes-P3-2026-10-25.csv")["time"]
    assert (times == "2026-10-25T02:00:00").sum() == 2
    assert not times.str.contains(r"[+Z]").any()


def test_containers_hold_what_the_trace_says() -> None:
    boxes = table("containers").set_index("container_id")["quantity"]
    assert truth("trace").groupby("container_id")["pieces"].sum().to_dict() == boxes[boxes > 0].to_dict()


def test_a_reel_is_mounted_after_it_was_wound_and_never_fed_further_than_it_holds() -> None:
    reels, coils = table("reels").set_index("reel_id"), truth("coils")
    fed = coils[coils["press_id"] == "P5"]
    mounted = pd.to_datetime(fed["mounted_at"], utc=True).to_numpy()
    ended = pd.to_datetime(reels.loc[fed["coil_id"], "ended_at"], utc=True).to_numpy()
    assert (mounted > ended).all()
    wound = coils[coils["press_id"] == "P4"]["pieces"].sum()
    assert fed["strokes"].sum() < wound
    clips = truth("trace")[truth("trace")["part_no"] == "C-9"]
    assert set(clips["coil_id"]) <= set(coils.loc[coils["press_id"] == "P4", "coil_id"])


def test_the_planted_lot_wear_and_coil_head_show_in_what_was_found() -> None:
    looked = table("inspections")
    looked = looked[looked["kind"] == "full"]
    lots = truth("trace").groupby("container_id")["lot"].agg(lambda lot: ";".join(sorted(set(lot))))
    bracket = looked[looked["part_no"] == "B-7"]
    made = bracket.drop_duplicates("inspection_id").set_index("container_id")["inspected"].astype(int)
    cracks = bracket[bracket["cause"] == "CRK"].groupby("container_id")["rejected"].sum().reindex(made.index).fillna(0)
    bad = (lots.reindex(made.index) == "LOT-0417").to_numpy()
    assert 3 < (cracks[bad].sum() / made[bad].sum()) / (cracks[~bad].sum() / made[~bad].sum()) < 5
    planted = tomllib.loads((TRUTH / "planted.toml").read_text())["fault"]
    assert {fault.get("factor") for fault in planted} == {"lot", "wear", "coil_position", None}


def test_the_whole_of_it_stays_small() -> None:
    assert sum(path.stat().st_size for path in SAMPLES.rglob("*.*")) < 15e6


def test_the_dirty_drop_is_written_again_byte_for_byte(tmp_path: Path) -> None:
    dirty.write(tmp_path)
    for path in (path for path in tmp_path.rglob("*") if path.is_file()):
        assert path.read_bytes() == (SAMPLES / "dirty" / path.relative_to(tmp_path)).read_bytes()


def test_the_expected_counts_of_the_dirty_drop_close() -> None:
    expected = tomllib.loads((SAMPLES / "dirty" / "expected.toml").read_text(encoding="utf-8"))
    for file in expected["file"]:
        assert file["read"] == file["new"] + file["repeated"] + file["corrected"] + file["set_aside"]
        assert file["set_aside"] == len(file.get("aside", []))
        rows = (SAMPLES / "dirty" / file["drop"] / file["file"]).read_text(encoding="utf-8").splitlines()
        assert len(rows) - 1 == file["read"]


@pytest.mark.slow
def test_everything_is_written_again_byte_for_byte(tmp_path: Path) -> None:
    simulate.main(tmp_path)
    names = [str(path.relative_to(tmp_path)) for path in tmp_path.rglob("*") if path.is_file()]
    same, different, missing = filecmp.cmpfiles(tmp_path, SAMPLES, names, shallow=False)
    assert (len(same), different, missing) == (len(names), [], [])
