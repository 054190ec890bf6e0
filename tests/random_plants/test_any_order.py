"""The same rows give the same bytes of every figure, however they are cut into files, in whatever order these come."""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.figures import AVAILABLE, ask_all
from monitor.ledger import Ledger
from monitor.load.files import load
from shared.tables import TABLES
from tests.invented.cutting import cut_up
from tests.invented.plants import random_plant
from tests.invented.two_dies import one_die_plant, two_die_plant
from tests.seeds import some

#: Figures of what is in the plant; the two left out tell of the files.
OF_THE_PLANT = tuple(name for name in AVAILABLE if name not in ("loads", "set_aside"))
FORTNIGHT = Path(__file__).parents[2] / "sample_runs" / "fortnight"


def figures(ledger: Ledger) -> dict[str, bytes]:
    return {name: table.to_csv().encode() for name, table in ask_all(ledger.snapshot(), OF_THE_PLANT).items()}


def rows(ledger: Ledger) -> dict[str, list[str]]:
    held = ledger.snapshot()
    return {name: sorted(map(str, held.rows(name).to_pylist())) for name in TABLES}


def new(ledger: Ledger) -> dict[str, int]:
    """Rows that count as new, by table."""
    loads = ledger.snapshot().loads()
    assert (loads["read"] == loads[["new", "repeated", "corrected", "set_aside"]].sum(axis=1)).all()
    return loads.groupby("table")["new"].sum().to_dict()


def check_any_order(folder: Path, work: Path, seed: int) -> dict[str, bytes]:
    """Load a plant whole, then cut up, then cut up otherwise on top of that; returns the figures of all three."""
    dice = random.Random(seed)
    with Ledger.open(work / "whole", create=True) as whole, Ledger.open(work / "parts", create=True) as parts:
        load([folder], whole)
        expected, held = figures(whole), rows(whole)
        for some in cut_up(folder, work / "cut", dice):
            load(some, parts)
        assert rows(parts) == held
        assert figures(parts) == expected
        once = new(parts)
        for some in cut_up(folder, work / "otherwise", dice):
            load(some, parts)
        assert rows(parts) == held
        assert figures(parts) == expected
        assert parts.snapshot().set_aside_rows().empty
        # A row counts as new in one file, whichever of them it is.
        assert new(parts) == once
    return expected


@pytest.mark.parametrize("seed", some(range(1_000, 1_006), 1))
def test_random_plants(tmp_path: Path, seed: int) -> None:
    random_plant(seed, tmp_path / "plant")
    made = check_any_order(tmp_path / "plant", tmp_path, seed)
    assert len(made["shifts"].splitlines()) > 1


@pytest.mark.parametrize("write", [one_die_plant, two_die_plant])
@pytest.mark.parametrize("seed", [1])
def test_routes_through_one_die_and_two(tmp_path: Path, write: Callable[[int, Path], object], seed: int) -> None:
    write(seed, tmp_path / "plant")
    made = check_any_order(tmp_path / "plant", tmp_path, seed)
    assert len(made["trace"].splitlines()) > 1


@pytest.mark.slow
def test_every_table_of_a_plant(tmp_path: Path) -> None:
    """The sample's book, material and events whole, with the counters of one press."""
    plant = tmp_path / "plant"
    plant.mkdir()
    for path in FORTNIGHT.iterdir():
        if not path.name.startswith("strokes-") or path.name.startswith("strokes-P2"):
            shutil.copy(path, plant / path.name)
    made = check_any_order(plant, tmp_path, 5)
    # All that the sample notes can be true.
    assert {name for name, text in made.items() if len(text.splitlines()) < 2} == {"contradictions"}
