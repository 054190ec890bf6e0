"""Rows let in by hand: the sums go on closing, the figures follow, who and when is kept."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest

from monitor.figures import figure
from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.load.release import release
from tests.invented.small import strokes, write_book

NAMES = ["read", "new", "repeated", "corrected", "set_aside"]


@pytest.fixture
def drop(tmp_path: Path) -> Path:
    return write_book(tmp_path / "in")


def put(ledger: Ledger, drop: Path, name: str, text: str) -> None:
    (drop / name).write_text(text, "utf-8")
    load([drop / name], ledger)


def sums(ledger: Ledger, file: str) -> list[int]:
    loads = ledger.snapshot().loads()
    row = loads[loads["file"] == file].iloc[-1]
    assert row["read"] == row[NAMES[1:]].sum()
    return [int(row[name]) for name in NAMES]


def ids(ledger: Ledger) -> list[int]:
    return ledger.snapshot().set_aside_rows()["id"].tolist()


def strokes_made(ledger: Ledger) -> int:
    return int(figure(ledger, "shifts")["strokes"].sum())


def test_mended_row_counts_as_new_and_the_figures_follow(ledger: Ledger, drop: Path) -> None:
    load([drop], ledger)
    text = strokes(0, 10) + "2026-11-02T06:10:00,P1,6OO\n" + strokes(11, 12, heading=False)
    put(ledger, drop, "strokes-1.csv", text.replace("06:11:00,P1,660", "06:11:00,P1,x"))
    assert sums(ledger, "strokes-1.csv") == [12, 10, 0, 0, 2]
    assert strokes_made(ledger) == 540
    first, second = ids(ledger)
    row = {"time": "2026-11-02T06:10:00", "press_id": "P1", "counter": "600"}
    done = release(ledger, {first: json.dumps(row), second: None}, by="K. Berg")
    assert (done.taken, list(done.stay), done.unknown, done.version) == (1, [second], [], ledger.version)
    assert done.stay[second].startswith("counter is 'x'")
    assert sums(ledger, "strokes-1.csv") == [12, 11, 0, 0, 1]
    assert strokes_made(ledger) == 600
    kept = ledger.snapshot().released_rows().to_dict("records")
    assert [(k["id"], k["released_by"], json.loads(k["released_row"])) for k in kept] == [(first, "K. Berg", row)]
    assert kept[0]["released_at"] > 1_600_000_000_000_000
    assert json.loads(kept[0]["row"])["counter"] == "6OO"


def test_row_that_contradicts_comes_in_as_a_correction(ledger: Ledger, drop: Path) -> None:
    load([drop], ledger)
    put(ledger, drop, "coils-2.csv", "coil_id,lot,material,width_mm,thickness_mm,weight_kg\nC1,L1,DC01,40,1,300\n")
    (only,) = ids(ledger)
    assert list(release(ledger, {only: None}).stay) == [only]
    assert release(ledger, {only: None}, correct=True).taken == 1
    assert sums(ledger, "coils-2.csv") == [1, 0, 0, 1, 0]
    assert ledger.snapshot().rows("coils")["weight_kg"].to_pylist() == [300.0]


def test_row_that_is_in_already_counts_as_repeated(ledger: Ledger, drop: Path) -> None:
    load([drop], ledger)
    put(ledger, drop, "strokes-1.csv", strokes(0, 2) + "2026-11-02T06:01:00,P1,6O\n")
    (only,) = ids(ledger)
    row = json.dumps({"time": "2026-11-02T06:01:00", "press_id": "P1", "counter": "60"})
    assert release(ledger, {only: row}).taken == 1
    assert sums(ledger, "strokes-1.csv") == [3, 2, 1, 0, 0]


def test_row_that_others_wait_for_lets_them_in_too(ledger: Ledger, drop: Path) -> None:
    load([drop], ledger)
    put(ledger, drop, "presses-2.csv", "press_id,rated_spm\nP2,fast\n")
    put(ledger, drop, "strokes-2.csv", strokes(0, 3, "P2"))
    rated = ids(ledger)[0]
    release(ledger, {rated: '{"press_id": "P2", "rated_spm": "60"}'})
    assert ids(ledger) == []
    assert sums(ledger, "strokes-2.csv") == [3, 3, 0, 0, 0]


def test_id_that_is_not_set_aside_is_named_and_changes_nothing(ledger: Ledger, drop: Path) -> None:
    load([drop], ledger)
    before = ledger.version
    done = release(ledger, {77: None})
    assert (done.taken, done.unknown, done.version) == (0, [77], before)
    assert ledger.version == before


def test_file_that_grows_sets_nothing_aside_twice(ledger: Ledger, drop: Path) -> None:
    load([drop], ledger)
    bad = "2026-11-02T06:01:30,P1,9O\n"
    put(ledger, drop, "strokes-1.csv", strokes(0, 2) + bad + "2026-11-02T06:02:00,P1")
    assert sums(ledger, "strokes-1.csv") == [4, 2, 0, 0, 2]
    put(ledger, drop, "strokes-1.csv", strokes(0, 2) + bad + strokes(2, 5, heading=False))
    # The line that had been cut short is whole now; the bad one is set aside once.
    assert sums(ledger, "strokes-1.csv") == [6, 3, 3, 0, 0]
    held = ledger.snapshot().set_aside_rows()
    assert held["line"].tolist() == [4]
    loads = ledger.snapshot().loads()
    first = loads[loads["file"] == "strokes-1.csv"].iloc[0]
    assert first[NAMES].tolist() == [4, 2, 1, 0, 1]
    release(ledger, {int(held["id"].iloc[0]): '{"time": "2026-11-02T06:01:30", "press_id": "P1", "counter": "90"}'})
    put(ledger, drop, "strokes-1.csv", strokes(0, 2) + bad + strokes(2, 7, heading=False))
    assert sums(ledger, "strokes-1.csv") == [8, 2, 6, 0, 0]
    assert ids(ledger) == []


def test_other_file_of_the_same_name_is_no_growth(ledger: Ledger, drop: Path) -> None:
    load([drop], ledger)
    put(ledger, drop, "strokes-1.csv", strokes(0, 2) + "2026-11-02T06:01:30,P1,9O\n")
    put(ledger, drop, "strokes-1.csv", strokes(5, 9))
    assert ledger.snapshot().set_aside_rows()["line"].tolist() == [4]
    assert sums(ledger, "strokes-1.csv") == [4, 4, 0, 0, 0]


def test_released_frame_is_empty_at_first(ledger: Ledger) -> None:
    assert isinstance(ledger.snapshot().released_rows(), pd.DataFrame)
    assert ledger.snapshot().released_rows().empty
