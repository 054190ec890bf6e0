"""Random plants against their exact truth, and the sums that must close whatever happened in them.

The truth comes from a simulator that plays every stroke and shares no code with the reckoning.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pandas as pd
import pytest

from monitor.figures import FIGURES, figure
from monitor.ledger import Ledger
from monitor.load.files import load
from tests.invented.plants import Truth, random_plant
from tests.seeds import some

SHIFT = ["shift_date", "shift", "press_id", "die_id", "part_no"]
COUNTS = ["strokes", "setup_strokes", "strokes_without_strip", "pieces", "setup_pieces", "rejected", "reworked", "good"]
TIMES = ["planned_s", "running_s", "stopped_s", "unresolved_s", "extra_run_s"]
RECKONED = ["shifts", "hours", "stops", "coils", "scrap"]


Loaded = Callable[[int], tuple[Truth, Ledger]]


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Loaded]:
    """Plants by seed, each loaded once for all tests, which only read it."""
    kept: dict[int, tuple[Truth, Ledger]] = {}
    with ExitStack() as opened:

        def of(seed: int) -> tuple[Truth, Ledger]:
            if seed not in kept:
                folder = tmp_path_factory.mktemp(f"plant-{seed}")
                kept[seed] = (random_plant(seed, folder), opened.enter_context(_ledger_of(folder)))
            return kept[seed]

        yield of


def _ledger_of(folder: Path) -> Ledger:
    ledger = Ledger.open(folder.with_name(f"{folder.name}-ledger"), create=True)
    load([folder], ledger)
    return ledger


@pytest.mark.parametrize("seed", some(range(24), 12))
def test_figures_agree_with_the_truth(loaded: Loaded, seed: int) -> None:
    truth, ledger = loaded(seed)
    shifts = figure(ledger, "shifts")
    both = truth.shifts.merge(shifts, on=SHIFT, how="outer", suffixes=("_truth", ""), indicator=True)
    assert (both["_merge"] == "both").all(), both[both["_merge"] != "both"][SHIFT]
    for name in COUNTS:
        # Empty beside empty agrees, empty beside a number does not.
        alike = both[name].fillna(-1) == both[f"{name}_truth"].fillna(-1)
        assert alike.all(), both.loc[~alike, SHIFT]
    # Within one sampling interval for each start or stop; readings lie at most 60 s apart, gaps and glitches aside.
    edges = figure(ledger, "stops").groupby(["shift_date", "shift", "press_id"]).size()
    allowed = 60 * (2 * both.set_index(SHIFT[:3]).index.map(edges).fillna(0).to_numpy() + 2)
    for name in TIMES:
        assert (both[name].isna() == both[f"{name}_truth"].isna()).all(), name
        assert ((both[name] - both[f"{name}_truth"].astype(float)).abs().fillna(0) <= allowed).all(), name


@pytest.mark.parametrize("seed", some(range(36), 12))
def test_coils_agree_with_the_truth(loaded: Loaded, seed: int) -> None:
    truth, ledger = loaded(seed)
    coils = figure(ledger, "coils")
    coils["mounted_s"] = [int(dt.datetime.fromisoformat(text).timestamp()) for text in coils["mounted_at"]]
    key = ["press_id", "coil_id", "mounted_s"]
    both = truth.coils.merge(coils, on=key, how="outer", suffixes=("_truth", ""), indicator=True)
    assert (both["_merge"] == "both").all(), both[both["_merge"] != "both"][key]
    for name in ("strokes", "pieces", "unfinished", "setup_pieces", "rejected", "good"):
        assert (both[name] == both[f"{name}_truth"]).all(), both.loc[both[name] != both[f"{name}_truth"], key]
    for name in ("used_m", "used_kg", "start_kg", "remaining_kg"):
        assert both[name].to_numpy(float) == pytest.approx(both[f"{name}_truth"].to_numpy(float), rel=1e-3, abs=1e-9)


@pytest.mark.parametrize("seed", some(range(36), 12))
def test_every_sum_closes(loaded: Loaded, seed: int) -> None:
    truth, ledger = loaded(seed)
    shifts, hours, stops = (figure(ledger, name) for name in ("shifts", "hours", "stops"))
    assert shifts["strokes"].sum() == hours["strokes"].sum() == sum(truth.strokes_by_press.values())
    assert (shifts["pieces"] == shifts[["good", "reworked", "rejected", "setup_pieces"]].sum(axis=1)).all()
    spent = shifts[["running_s", "stopped_s", "unresolved_s"]].sum(axis=1, skipna=False)
    assert shifts["planned_s"].to_numpy() == pytest.approx(spent.to_numpy(), nan_ok=True)
    assert (shifts["strokes"].isna() == shifts["planned_s"].isna()).all()
    assert hours["unresolved_s"].sum() == pytest.approx(shifts["unresolved_s"].sum())
    assert stops.loc[~stops["planned"], "seconds"].sum() == pytest.approx(shifts["stopped_s"].sum())
    coils = figure(ledger, "coils")
    parts = ["good_kg", "skeleton_kg", "unfinished_kg", "setup_kg", "rejected_kg", "remaining_kg", "difference_kg"]
    assert coils["start_kg"].to_numpy(float) == pytest.approx(coils[parts].sum(axis=1).to_numpy(float))
    loads = figure(ledger, "loads")
    assert (loads["read"] == loads[["new", "repeated", "corrected", "set_aside"]].sum(axis=1)).all()
    assert (loads["rows"] == loads["read"] + loads["outside"]).all()
    for name in RECKONED:
        assert list(figure(ledger, name).columns) == list(FIGURES[name].names)


@pytest.mark.parametrize("seed", some(range(36), 12))
def test_ranges_add_up_to_the_whole(loaded: Loaded, seed: int) -> None:
    _, ledger = loaded(seed)
    whole = figure(ledger, "shifts")
    days = sorted(set(whole["shift_date"]))
    following = [*days[1:], None]
    parts = [figure(ledger, "shifts", from_=day, to=after) for day, after in zip(days, following, strict=True)]
    assert_same(pd.concat(parts, ignore_index=True).sort_values(SHIFT), whole.sort_values(SHIFT))


def test_loading_again_changes_nothing(tmp_path: Path) -> None:
    (tmp_path / "plant").mkdir()
    truth = random_plant(7, tmp_path / "plant")
    ledger = _ledger_of(tmp_path / "plant")
    version, before = ledger.version, {name: figure(ledger, name) for name in (*RECKONED, "loads", "set_aside")}
    report = load([truth.folder], ledger)
    assert ledger.version == version
    assert all(file.new == file.corrected == 0 and file.read == file.repeated + file.set_aside for file in report.files)
    for name, table in before.items():
        assert_same(figure(ledger, name), table)


def assert_same(left: pd.DataFrame, right: pd.DataFrame) -> None:
    pd.testing.assert_frame_equal(left.reset_index(drop=True), right.reset_index(drop=True))
