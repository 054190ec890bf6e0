"""What a load says of its rows, and which are set aside, is the same in whatever order the files come."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pytest

from monitor.figures import AVAILABLE, figure
from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.load.release import release
from shared.tables import TABLES
from tests.invented.small import BOOK, PLANT
from tests.seeds import some

COILS = "coil_id,lot,material,width_mm,thickness_mm,weight_kg,recorded_at\n"
STOPS = "press_id,start_at,end_at,reason,recorded_at\n"
LOOKS = "inspection_id,time,press_id,kind,inspected,cause,rejected,recorded_at\n"
STROKES = "time,press_id,counter,recorded_at\n"
SIZES = "part_no,characteristic,time,piece,press_id,value,recorded_at\n"

COUNTS = ["file", "table", "rows", "outside", "read", "new", "repeated", "corrected", "set_aside", "refused"]


def coil(name: str, weight: float, recorded: str = "") -> str:
    return f"{name},L1,DC01,40,1,{weight},{recorded}\n"


def stroke(minute: int, counter: int, recorded: str = "", press: str = "P1") -> str:
    return f"2026-11-02T{6 + minute // 60:02}:{minute % 60:02}:00,{press},{counter},{recorded}\n"


def size(piece: int, value: float, recorded: str = "") -> str:
    return f"N1,width,2026-11-02T07:00:00,{piece},P1,{value},{recorded}\n"


def write(folder: Path, files: dict[str, str]) -> dict[str, Path]:
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text, "utf-8")
    return {name: folder / name for name in files}


class Loads:
    """A ledger of a small plant, into which files are loaded one at a time."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.ledger = Ledger.open(folder / "ledger", create=True)
        self.load("plant.toml", PLANT)

    def load(self, name: str, text: str, correct: bool = False) -> Any:
        (path,) = write(self.folder, {name: text}).values()
        return load([path], self.ledger, correct=correct).files[0]

    def counts(self) -> dict[str, tuple[int, int, int, int]]:
        """New, repeated, corrected and set aside by file, in the order of their loads."""
        rows = figure(self.ledger, "loads")
        kinds = rows[["new", "repeated", "corrected", "set_aside"]].to_numpy().tolist()
        return {f"{n} {file}": tuple(row) for n, (file, row) in enumerate(zip(rows["file"], kinds, strict=True))}

    def weights(self) -> dict[str, float]:
        rows = self.ledger.snapshot().rows("coils").to_pylist()
        return {row["coil_id"]: row["weight_kg"] for row in rows}

    def aside(self) -> list[tuple[str, int, str]]:
        rows = figure(self.ledger, "set_aside")
        return list(zip(rows["file"], rows["line"], rows["reason"], strict=True))


@pytest.fixture
def plant(tmp_path: Path) -> Loads:
    return Loads(tmp_path)


@pytest.mark.parametrize(("was", "again"), [(300, 310), (310, 300), (300, 290)])
def test_a_second_file_of_one_name_never_replaces_a_row_unasked(plant: Loads, was: float, again: float) -> None:
    plant.load("coils.csv", COILS + coil("C1", was))
    second = plant.load("coils.csv", COILS + coil("C1", again))
    assert (second.new, second.repeated, second.corrected, second.set_aside) == (0, 0, 0, 1)
    assert plant.weights() == {"C1": was}
    asked = plant.load("coils.csv", COILS + coil("C1", again), correct=True)
    assert (asked.new, asked.repeated, asked.corrected, asked.set_aside) == (0, 0, 1, 0)
    assert plant.weights() == {"C1": again}


def test_the_same_file_again_with_correct_takes_what_was_set_aside(plant: Loads) -> None:
    """C1 is 300 kg in the first file and 310 in the second; C2 is the same in both, C3 is in the second alone."""
    plant.load("coils.csv", COILS + coil("C1", 300) + coil("C2", 400))
    again = COILS + coil("C1", 310) + coil("C2", 400) + coil("C3", 500)
    plant.load("coils-late.csv", again)
    assert plant.counts()["2 coils-late.csv"] == (1, 1, 0, 1)
    ((file, line, reason),) = plant.aside()
    assert (file, line) == ("coils-late.csv", 2)
    assert reason.startswith(
        "contradicts coils.csv, line 2: weight_kg 310.0 instead of 300.0; expected the same values"
    )
    assert plant.weights() == {"C1": 300, "C2": 400, "C3": 500}
    told = plant.load("coils-late.csv", again, correct=True)
    assert (told.already_in, told.new, told.repeated, told.corrected, told.set_aside) == (None, 0, 2, 1, 0)
    assert plant.weights() == {"C1": 310, "C2": 400, "C3": 500}
    assert plant.aside() == []
    # The row that was set aside says what has been taken since, so it repeats it; the correction is a load of its own.
    assert list(plant.counts().values())[1:] == [(2, 0, 0, 0), (1, 2, 0, 0), (0, 2, 1, 0)]
    version = plant.ledger.version
    third = plant.load("coils-late.csv", again, correct=True)
    assert third.already_in is not None
    assert (third.repeated, third.corrected) == (3, 0)
    assert plant.ledger.version == version


def test_an_older_row_replaces_no_newer_one_even_to_correct(plant: Loads) -> None:
    plant.load("coils-1.csv", COILS + coil("C1", 310, "2026-10-27T08:00Z"))
    told = plant.load("coils-2.csv", COILS + coil("C1", 300, "2026-10-20T08:00Z"), correct=True)
    assert plant.weights() == {"C1": 310}
    assert plant.aside() == []
    # 300 was new on the 20th and corrected on the 27th, though it came second.
    assert told.new == 1
    assert list(plant.counts().values())[1:] == [(0, 0, 1, 0), (1, 0, 0, 0)]


def test_a_row_set_aside_moves_to_the_later_file_when_the_first_comes(plant: Loads) -> None:
    plant.load("coils-late.csv", COILS + coil("C1", 310))
    report = load([write(plant.folder, {"coils.csv": COILS + coil("C1", 300)})["coils.csv"]], plant.ledger)
    assert plant.weights() == {"C1": 300}
    assert [row[:2] for row in plant.aside()] == [("coils-late.csv", 2)]
    assert "weight_kg 310.0 instead of 300.0" in plant.aside()[0][2]
    assert list(plant.counts().values())[1:] == [(0, 0, 0, 1), (1, 0, 0, 0)]
    assert report.recounted == ["coils-late.csv: 1 rows loaded before count as set aside now, no longer as new"]
    # Let in by hand as a correction, it holds.
    (row,) = figure(plant.ledger, "set_aside")["id"]
    assert release(plant.ledger, {int(row): None}, by="Quality", correct=True).taken == 1
    assert plant.weights() == {"C1": 310}
    assert list(plant.counts().values())[1:] == [(0, 0, 1, 0), (1, 0, 0, 0)]


def test_a_row_that_waited_is_told_why_it_is_set_aside_now(plant: Loads) -> None:
    plant.load("coils.csv", BOOK["coils.csv"])
    plant.load("presses-1.csv", BOOK["presses.csv"])
    plant.load("stops-2.csv", STOPS + "P9,2026-11-02T06:00,2026-11-02T06:30,JAM,\n")
    assert "waits for it" in plant.aside()[0][2]
    plant.load("stops-1.csv", STOPS + "P9,2026-11-02T06:00,2026-11-02T06:30,LUB,\n")
    plant.load("presses-2.csv", "press_id\nP9\n")
    ((file, _, reason),) = plant.aside()
    assert file == "stops-2.csv"
    assert reason.startswith("contradicts stops-1.csv, line 2: reason JAM instead of LUB")


def any_files() -> dict[str, tuple[str, bool]]:
    """Files of all kinds with what they say twice, correct or contradict, and whether they come as corrections."""
    late, later = "2026-11-03T08:00Z", "2026-11-04T08:00Z"
    looks = "I1,2026-11-02T08:00:00,P1,full,10"
    return {
        "presses.csv": (BOOK["presses.csv"], False),
        **{
            f"{name}.csv": (BOOK[f"{name}.csv"], False) for name in ("dies", "stations", "parts", "routes", "materials")
        },
        "die_changes.csv": (BOOK["die_changes.csv"], False),
        "coil_changes.csv": (BOOK["coil_changes.csv"], False),
        "coils-a.csv": (COILS + coil("C1", 300) + coil("C2", 400) + coil("C1", 300) + coil("C4", 7), False),
        "coils-b.csv": (COILS + coil("C1", 310) + coil("C2", 410, late) + coil("C3", 500, later), False),
        "coils-c.csv": (COILS + coil("C3", 510, late) + coil("C2", 400) + coil("C1", 310), False),
        "coils-d.csv": (COILS + coil("C1", 320) + coil("C3", 500, late) + coil("C5", 9), True),
        "coils-e.csv": (COILS + coil("C1", 330) + coil("C3", 510, later) + coil("C4", 7), True),
        "stops-a.csv": (STOPS + f"P1,2026-11-02T06:00,2026-11-02T06:30,JAM,\nP7,2026-11-02T06:00,,JAM,{late}\n", False),
        "stops-b.csv": (STOPS + "P1,2026-11-02T06:00,2026-11-02T06:30,LUB,\nP7,2026-11-02T06:00,,LUB,\n", False),
        "presses-late.csv": ("press_id,rated_spm\nP7,60\n", False),
        "inspections-a.csv": (LOOKS + f"{looks},BUR,7,\nI2,2026-11-02T09:00:00,P1,full,20,BUR,3,\n", False),
        "inspections-b.csv": (LOOKS + f"{looks},SCR,5,\n", False),
        "inspections-c.csv": (LOOKS + f"{looks},SCR,1,{late}\n{looks},MSF,1,{late}\n", False),
        "strokes-a.csv": (STROKES + "".join(stroke(n, 60 * n) for n in range(120)), False),
        "strokes-b.csv": (STROKES + "".join(stroke(n, 60 * n) for n in range(60, 180)) + stroke(30, 1799), False),
        "strokes-c.csv": (STROKES + stroke(30, 1801, late) + stroke(30, 1800, later) + stroke(50, 9999), False),
        "strokes-d.csv": (STROKES + "".join(stroke(n, 60 * n + (n == 70)) for n in range(65, 75)), True),
        "strokes-e.csv": (STROKES + stroke(5, 5, press="P7") + stroke(6, 6, press="P7"), False),
        "strokes-f.csv": (STROKES + stroke(5, 6, press="P7") + stroke(6, 600, press="P7"), False),
        "measurements-a.csv": (SIZES + size(1, 1.5), False),
        "measurements-b.csv": (SIZES + size(1, 1.6) + size(2, 2, late), False),
        "measurements-c.csv": (SIZES + size(1, 1.7, late) + size(2, 3), False),
    }


def seen(ledger: Ledger) -> dict[str, Any]:
    """Everything that must not depend on the order of loads."""
    held = ledger.snapshot()
    loads = figure(ledger, "loads")
    assert (loads["read"] == loads[["new", "repeated", "corrected", "set_aside"]].sum(axis=1)).all()
    assert (loads[["new", "repeated", "corrected", "set_aside"]] >= 0).all(axis=None)
    tables = {
        "loads": loads[COUNTS],
        "set_aside": figure(ledger, "set_aside").drop(columns=["id", "set_aside_at"]),
        **{name: figure(ledger, name) for name in AVAILABLE if name not in ("loads", "set_aside")},
        **{f"rows {name}": held.rows(name).to_pandas().astype("str") for name in TABLES},
    }
    return {name: sorted(map(tuple, table.astype("str").to_numpy().tolist())) for name, table in tables.items()}


def given(folder: Path, order: list[str], again: list[str]) -> dict[str, Any]:
    """What a ledger holds after files came in an order; some of them come once more as corrections, in their order."""
    files = any_files()
    with Ledger.open(folder / "ledger", create=True) as ledger:
        load(list(write(folder, {"plant.toml": PLANT}).values()), ledger)
        paths = write(folder, {name: text for name, (text, _) in files.items()})
        for name in order:
            name, once_more = name.removesuffix("+"), name.endswith("+")
            (report,) = load([paths[name]], ledger, correct=once_more or files[name][1]).files
            assert not report.refused
        assert again == [name for name in order if name.endswith("+")]
        return seen(ledger)


def in_some_order(dice: random.Random, again: list[str]) -> list[str]:
    """The files in a random order; those that come as corrections keep theirs."""
    files = any_files()
    names = [*(name for name, (_, correct) in files.items() if not correct)]
    dice.shuffle(names)
    for name in reversed([*(name for name, (_, correct) in files.items() if correct), *again]):
        first = min((names.index(other) for other in names if _corrects(other, files)), default=len(names))
        names.insert(dice.randint(0, first), name)
    return names


def _corrects(name: str, files: dict[str, tuple[str, bool]]) -> bool:
    return name.endswith("+") or files[name][1]


@pytest.mark.parametrize("seed", some(range(6), 2))
def test_any_order_gives_the_same_ledger_loads_and_set_aside(tmp_path: Path, seed: int) -> None:
    dice = random.Random(seed)
    again = ["coils-b.csv+", "strokes-b.csv+", "stops-b.csv+"] if seed % 2 else []
    expected = given(tmp_path / "one", in_some_order(random.Random(99), again), again)
    assert len(expected["set_aside"]) >= (2 if seed % 2 else 4)
    found = given(tmp_path / "other", in_some_order(dice, again), again)
    for name, rows in expected.items():
        assert found[name] == rows, name


def test_many_readings_told_by_another_file_are_counted_by_the_first(plant: Loads) -> None:
    """180 minutes in a file, the middle 60 in one that stands before it: they are new there, though it came later."""
    plant.load("presses.csv", BOOK["presses.csv"])
    plant.load("strokes-b.csv", STROKES + "".join(stroke(n, 60 * n) for n in range(180)))
    plant.load("strokes-a.csv", STROKES + "".join(stroke(n, 60 * n) for n in range(60, 120)))
    assert list(plant.counts().values())[2:] == [(120, 60, 0, 0), (60, 0, 0, 0)]
    held = plant.ledger.snapshot().strokes("P1")
    assert held["counter"].to_pylist() == [60 * n for n in range(180)]
    assert held["load_id"].to_pylist() == [3] * 60 + [4] * 60 + [3] * 60
