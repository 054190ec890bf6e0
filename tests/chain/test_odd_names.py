"""Whatever prints may be a name: a plant of odd names gives the figures of the same plant with plain ones."""

from __future__ import annotations

import json
import random
import shutil
from collections.abc import Callable, Mapping
from pathlib import Path

import pandas as pd
import pytest

from monitor.enter.holds import place
from monitor.figures import AVAILABLE, ask_all, figure
from monitor.figures.genealogy.holds import held_pieces, holds
from monitor.figures.genealogy.holds_in_force import hold_places, sentence
from monitor.ledger import Ledger
from monitor.load.files import load
from tests.invented.odd_names import Renaming, renamed
from tests.invented.plants import random_plant
from tests.invented.two_dies import one_die_plant, two_die_plant
from tests.seeds import some

#: Figures of what is in the plant; the two left out tell of the files.
OF_THE_PLANT = tuple(name for name in AVAILABLE if name not in ("loads", "set_aside"))
FORTNIGHT = Path(__file__).parents[2] / "sample_runs" / "fortnight"


def told(table: pd.DataFrame, names: Mapping[str, str]) -> list[tuple[str, ...]]:
    """The rows of a table as text, each plain name replaced by the odd one."""
    rows = table.to_numpy(dtype=object)
    return sorted(tuple(renamed(_text(cell), names) for cell in row) for row in rows)


def _text(cell: object) -> str:
    return ", ".join(map(str, cell)) if isinstance(cell, tuple) else str(cell)


def hold(ledger: Ledger) -> None:
    """Hold a coil, its lot and its heat, and the first container."""
    held = ledger.snapshot()
    coils, boxes = held.rows("coils").to_pylist(), held.rows("containers").to_pylist()
    asked = [(scope, row[column]) for row in coils[:1] for scope, column in
             (("coil", "coil_id"), ("lot", "lot"), ("heat", "heat"))]  # fmt: skip
    for scope, value in [*asked, *(("container", row["container_id"]) for row in boxes[:1])]:
        if value:
            place(ledger, scope, value, "cracks", by="Quality")


def held_by(ledger: Ledger) -> list[pd.DataFrame]:
    asked = holds(ledger.snapshot()).sort_values("hold_id")
    found = [
        held_pieces(ledger, scope, value, (None, None))
        for scope, value in zip(asked["scope"], asked["value"], strict=True)
    ]
    told = pd.DataFrame([[sentence(place)] for place in hold_places(ledger.snapshot())], columns=["told"])
    return [told, *(table for one in found for table in (one.boxes, one.coils))]


def check_odd_names(folder: Path, work: Path, seed: int) -> dict[str, int]:
    both = Renaming(folder, work, random.Random(seed))
    with Ledger.open(work / "ledger", create=True) as plain, Ledger.open(work / "other", create=True) as odd:
        load([both.plain], plain)
        for file in both.late_book():
            (report,) = load([file], odd).files
            assert not report.refused
        assert plain.snapshot().set_aside_rows().empty
        assert odd.snapshot().set_aside_rows()["reason"].tolist() == []
        for row in figure(odd, "set_aside")["row"]:
            assert json.loads(row)["press_id"] in odd.snapshot().known()["presses"]
        hold(plain)
        hold(odd)
        rows = {}
        tables = (ask_all(ledger.snapshot(), OF_THE_PLANT).values() for ledger in (plain, odd))
        for name, expected, found in zip(OF_THE_PLANT, *tables, strict=True):
            assert told(found, {}) == told(expected, both.names), name
            rows[name] = len(found)
        for expected, found in zip(held_by(plain), held_by(odd), strict=True):
            assert told(found, {}) == told(expected, both.names)
            rows["held"] = rows.get("held", 0) + len(found)
    return rows


@pytest.mark.parametrize("seed", some(range(6), 1))
def test_random_plants(tmp_path: Path, seed: int) -> None:
    random_plant(2_000 + seed, tmp_path / "plant")
    rows = check_odd_names(tmp_path / "plant", tmp_path, seed)
    assert rows["shifts"] > 1


@pytest.mark.parametrize("write", [one_die_plant, two_die_plant])
@pytest.mark.parametrize("seed", [1])
def test_routes_through_one_die_and_two(tmp_path: Path, write: Callable[[int, Path], object], seed: int) -> None:
    write(seed, tmp_path / "plant")
    rows = check_odd_names(tmp_path / "plant", tmp_path, seed)
    assert rows["trace"] > 1
    assert rows["held"] > 1


@pytest.mark.slow
def test_every_table_of_a_plant(tmp_path: Path) -> None:
    """The sample's book, material and events whole, with the counters of one press."""
    plant = tmp_path / "plant"
    plant.mkdir()
    for path in FORTNIGHT.iterdir():
        if not path.name.startswith("strokes-") or path.name.startswith("strokes-P2"):
            shutil.copy(path, plant / path.name)
    rows = check_odd_names(plant, tmp_path, 5)
    # All that the sample notes can be true.
    assert {name for name, count in rows.items() if not count} == {"contradictions"}
