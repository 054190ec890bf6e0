"""Every container of a two-die route against its stroke-by-stroke truth: coils, pieces, and what is certain."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from monitor.figures import figure
from monitor.figures.genealogy.search import trace_of
from monitor.ledger import Ledger
from monitor.load.files import load
from tests.invented.two_dies import Plant, one_die_plant, two_die_plant
from tests.seeds import some

Loaded = Callable[[int], tuple[Plant, Ledger]]


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Loaded]:
    """Plants of two dies by seed, each loaded once for all tests, which only read it."""
    kept: dict[int, tuple[Plant, Ledger]] = {}
    with ExitStack() as opened:

        def of(seed: int) -> tuple[Plant, Ledger]:
            if seed not in kept:
                plant, ledger = _loaded(tmp_path_factory.mktemp(f"plant-{seed}"), seed)
                kept[seed] = (plant, opened.enter_context(ledger))
            return kept[seed]

        yield of


def _loaded(folder: Path, seed: int, *, coarse: bool = False) -> tuple[Plant, Ledger]:
    plant = two_die_plant(seed, folder / "files", coarse=coarse)
    ledger = Ledger.open(folder / "ledger", create=True)
    report = load([folder / "files"], ledger)
    assert not any(file.refused or file.set_aside for file in report.files)
    return plant, ledger


def traced(ledger: Ledger) -> dict[str, dict[str, int]]:
    table = figure(ledger, "trace")
    return {
        str(name): dict(zip(rows["coil_id"], rows["pieces"].tolist(), strict=True))
        for name, rows in table.groupby("container_id")
    }


@pytest.mark.parametrize("seed", some(range(50), 16))
def test_every_container_of_two_dies_holds_the_pieces_of_its_coils(loaded: Loaded, seed: int) -> None:
    plant, ledger = loaded(seed)
    assert traced(ledger) == {name: dict(Counter(coils)) for name, coils in plant.boxes.items() if coils}


@pytest.mark.parametrize("seed", some(range(100, 150), 16))
def test_every_container_of_one_die_holds_the_pieces_of_its_coils(tmp_path: Path, seed: int) -> None:
    plant = one_die_plant(seed, tmp_path / "files")
    with Ledger.open(tmp_path / "ledger", create=True) as ledger:
        report = load([tmp_path / "files"], ledger)
        assert not any(file.refused or file.set_aside for file in report.files)
        assert traced(ledger) == {name: dict(Counter(coils)) for name, coils in plant.boxes.items()}
        shifts = figure(ledger, "shifts")
        assert shifts["good"].sum() == len(_all(plant))


@pytest.mark.parametrize("seed", some(range(8), 3))
def test_a_coil_is_followed_to_the_same_pieces_as_containers_are_traced_back(loaded: Loaded, seed: int) -> None:
    plant, ledger = loaded(seed)
    back = figure(ledger, "trace")
    for coil in sorted(plant.coils):
        ahead = trace_of(ledger, coil=coil).table
        assert ahead["pieces"].sum() == plant.coils[coil] == back.loc[back["coil_id"] == coil, "pieces"].sum()
        assert (ahead["sure_pieces"] == ahead["pieces"]).all()
    lot = trace_of(ledger, lot="L-0").table
    assert lot["pieces"].sum() == sum(plant.coils[coil] for coil in ("C-1", "C-2"))
    sent = trace_of(ledger, shipment="S-1").table
    assert sent["pieces"].sum() == sum(len(plant.boxes[name]) for name in sorted(plant.boxes, key=_number)[::2])


@pytest.mark.parametrize("seed", some(range(40, 52), 4))
def test_what_is_called_sure_is_true_however_seldom_the_counter_is_read(tmp_path: Path, seed: int) -> None:
    plant, ledger = _loaded(tmp_path, seed, coarse=True)
    doubted = 0
    for name, coils in plant.boxes.items():
        truth, found = Counter(coils), trace_of(ledger, container=name).table
        assert found["pieces"].sum() == len(coils)
        for row in found.itertuples():
            doubted += row.pieces - row.sure_pieces
            assert row.sure_pieces <= truth[str(row.coil_id)], (name, row)
    assert doubted > 0
    ledger.close()


@pytest.mark.parametrize("seed", some(range(50), 16))
def test_metres_pieces_and_kilograms_are_conserved(loaded: Loaded, seed: int) -> None:
    plant, ledger = loaded(seed)
    coils, trace, shifts = (figure(ledger, name) for name in ("coils", "trace", "shifts"))
    assert trace["pieces"].sum() == shifts.loc[shifts["press_id"] == "B", "pieces"].sum() == len(_all(plant))
    on_reels = sum(len(strip) for strip in plant.wound.values())
    at_a = coils[coils["press_id"] == "A"]
    assert on_reels == at_a["pieces"].sum()
    fed_m = at_a["used_m"].sum()
    assert fed_m == pytest.approx(25e-3 * (on_reels + at_a["unfinished"].sum()))
    at_b = coils[coils["press_id"] == "B"]
    # All but what is too short to be threaded is fed into the second die, once.
    short = sum(len(strip) for strip in plant.wound.values() if len(strip) <= 2)
    assert at_b["used_m"].sum() == pytest.approx(25e-3 * (on_reels - short))
    parts = ["good_kg", "skeleton_kg", "unfinished_kg", "setup_kg", "rejected_kg", "remaining_kg", "difference_kg"]
    known = at_a[at_a["start_kg"].notna()]
    assert known["start_kg"].to_numpy(float) == pytest.approx(known[parts].sum(axis=1).to_numpy(float))


@pytest.mark.parametrize("seed", some(range(50), 16))
def test_the_weight_of_every_finished_piece_stands_once_with_its_coil(loaded: Loaded, seed: int) -> None:
    plant, ledger = loaded(seed)
    coils = figure(ledger, "coils")
    # A piece weighs a gram; what was wound up and not finished is unfinished.
    of_coil = coils[coils["press_id"] == "A"].groupby("coil_id")[["good_kg", "unfinished_kg", "used_kg"]].sum()
    finished = {coil: round(1000 * kg) for coil, kg in of_coil["good_kg"].items()}
    assert finished == {coil: plant.coils[coil] for coil in finished}
    assert coils["good_kg"].sum() * 1000 == pytest.approx(len(_all(plant)))
    parts = ["good_kg", "skeleton_kg", "unfinished_kg", "setup_kg", "rejected_kg", "remaining_kg", "difference_kg"]
    at_a = coils[(coils["press_id"] == "A") & coils["start_kg"].notna()]
    assert at_a["start_kg"].to_numpy(float) == pytest.approx(at_a[parts].sum(axis=1).to_numpy(float))
    assert (at_a[parts[:5]].to_numpy(float) >= -1e-9).all()


def _all(plant: Plant) -> list[str]:
    return [coil for coils in plant.boxes.values() for coil in coils]


def _number(name: str) -> int:
    return int(name.split("-")[1])
