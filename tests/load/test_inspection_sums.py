"""Inspections whose rows come in several files: what adds up over one file adds up over many, in any order."""

from __future__ import annotations

import random
import shutil
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.check import check
from monitor.figures import figure
from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.load.release import release
from monitor.load.set_aside import cells_of
from tests.invented.small import strokes, write_book
from tests.seeds import some

HEAD = "inspection_id,time,press_id,kind,inspected,cause,rejected,recorded_at\n"
DAY = "2026-11-02T"


def row(name: str, cause: str, rejected: int, inspected: int | str = 10, recorded: str = "") -> str:
    kind = "tub" if inspected == "" else "full"
    return f"{name},{DAY}07:00,P1,{kind},{inspected},{cause},{rejected},{recorded}\n"


@pytest.fixture
def ledger(tmp_path: Path):
    drop = write_book(tmp_path / "drop")
    (drop / "strokes-1.csv").write_text(strokes(0, 120))
    with Ledger.open(tmp_path / "ledger", create=True) as opened:
        load([drop], opened)
        yield opened


def bring(ledger: Ledger, folder: Path, name: str, *rows: str, **more: bool):
    path = folder / f"inspections-{name}.csv"
    path.write_text(HEAD + "".join(rows))
    [report] = load([path], ledger, **more).files
    assert report.read == report.new + report.repeated + report.corrected + report.set_aside
    loads = ledger.snapshot().loads()
    assert (loads["read"] == loads[["new", "repeated", "corrected", "set_aside"]].sum(axis=1)).all()
    assert (loads[["new", "repeated", "corrected", "set_aside"]] >= 0).all().all()
    return report


def stored(ledger: Ledger) -> list[tuple[str, str, int]]:
    rows = ledger.snapshot().rows("inspections").to_pylist()
    return sorted((one["inspection_id"], one["cause"] or "", one["rejected"]) for one in rows)


def aside(ledger: Ledger) -> Counter[tuple[str, str, str]]:
    rows = ledger.snapshot().set_aside_rows()
    cells = [cells_of(text) for text in rows["row"]]
    return Counter((one["inspection_id"], one.get("cause", ""), one["rejected"]) for one in cells)


def rejected(ledger: Ledger) -> int:
    return int(figure(ledger, "shifts")["rejected"].sum())


def test_rows_of_two_files_that_exceed_what_was_inspected_are_all_set_aside(tmp_path: Path, ledger: Ledger) -> None:
    first = bring(ledger, tmp_path, "1", row("I-1", "BUR", 7), row("I-2", "BUR", 2))
    assert (first.new, rejected(ledger)) == (2, 9)
    second = bring(ledger, tmp_path, "2", row("I-1", "SLG", 5))
    assert (second.new, second.set_aside) == (0, 1)
    assert stored(ledger) == [("I-2", "BUR", 2)]
    told = ledger.snapshot().set_aside_rows()
    assert sorted(told["file"]) == ["inspections-1.csv", "inspections-2.csv"]
    assert set(told["reason"]) == {"12 pieces rejected of 10 inspected, expected no more than inspected"}
    assert sorted(told["line"]) == [2, 2]
    assert rejected(ledger) == 2
    assert check(ledger) == []


def test_correction_in_a_third_file_brings_all_of_them_back(tmp_path: Path, ledger: Ledger) -> None:
    bring(ledger, tmp_path, "1", row("I-1", "BUR", 7))
    bring(ledger, tmp_path, "2", row("I-1", "SLG", 5))
    third = bring(ledger, tmp_path, "3", row("I-1", "SLG", 1, recorded="2026-11-03T06:00"))
    assert stored(ledger) == [("I-1", "BUR", 7), ("I-1", "SLG", 1)]
    # What the third file corrects is no longer set aside: it was new once, and is superseded.
    assert (third.new, third.corrected) == (0, 1)
    assert rejected(ledger) == 8
    assert ledger.snapshot().set_aside_rows().empty
    assert ledger.snapshot().loads()[["new", "corrected", "set_aside"]].tail(3).to_numpy().tolist() == [
        [1, 0, 0], [1, 0, 0], [0, 1, 0],
    ]  # fmt: skip


def test_rows_that_do_not_add_up_in_their_own_file_take_stored_ones_with_them(tmp_path: Path, ledger: Ledger) -> None:
    bring(ledger, tmp_path, "1", row("I-1", "BUR", 3))
    second = bring(ledger, tmp_path, "2", row("I-1", "SLG", 9), row("I-1", "MSF", 2))
    assert second.set_aside == 2
    assert stored(ledger) == []
    assert sum(aside(ledger).values()) == 3


def test_inspected_that_differs_between_files_sets_both_aside_and_a_mended_row_lets_both_in(
    tmp_path: Path, ledger: Ledger
) -> None:
    bring(ledger, tmp_path, "1", row("I-1", "BUR", 3, 10))
    bring(ledger, tmp_path, "2", row("I-1", "SLG", 1, 12))
    told = ledger.snapshot().set_aside_rows()
    assert (len(told), stored(ledger)) == (2, [])
    wrong = next(int(number) for number, text in zip(told["id"], told["row"], strict=True) if '"12"' in text)
    as_it_came = release(ledger, {wrong: None})
    assert (as_it_came.taken, list(as_it_came.stay)) == (0, [wrong])
    told = ledger.snapshot().set_aside_rows()
    wrong, text = next((int(n), t) for n, t in zip(told["id"], told["row"], strict=True) if '"12"' in t)
    assert release(ledger, {wrong: text.replace('"12"', '"10"')}).taken == 1
    assert stored(ledger) == [("I-1", "BUR", 3), ("I-1", "SLG", 1)]
    assert aside(ledger) == Counter()


def test_tubs_and_repeats_add_nothing(tmp_path: Path, ledger: Ledger) -> None:
    bring(ledger, tmp_path, "1", row("I-1", "BUR", 7), row("T-1", "BUR", 40, ""))
    again = bring(ledger, tmp_path, "2", row("I-1", "BUR", 7), row("T-1", "SLG", 40, ""), row("I-1", "SLG", 3))
    assert (again.new, again.repeated, again.set_aside) == (2, 1, 0)
    assert len(stored(ledger)) == 4


ROWS = st.lists(
    st.builds(
        row,
        st.sampled_from(["I-1", "I-2", "I-3"]),
        st.sampled_from(["BUR", "SLG", "MSF", "SCR"]),
        st.integers(0, 6),
        st.sampled_from([10, 10, 10, 12]),
    ),
    min_size=2,
    max_size=9,
    unique_by=lambda text: (text.split(",")[0], text.split(",")[5]),
)


@settings(
    max_examples=len(some(range(10), 4)),
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(rows=ROWS, seed=st.integers(0, 1_000_000))
def test_any_cut_into_files_in_any_order_comes_out_the_same(
    tmp_path: Path, ledger: Ledger, rows: list[str], seed: int
) -> None:
    outcomes = []
    dice = random.Random(seed)
    for turn in range(3):
        folder = tmp_path / f"turn-{turn}"
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(ledger.root, folder)
        some = list(rows) if not turn else dice.sample(rows, len(rows))
        parts = [some] if not turn else [some[at::3] for at in range(3)]
        repeated = [] if turn < 2 else dice.sample(rows, len(rows) // 2)
        with Ledger.open(folder) as own:
            for number, part in enumerate([*parts, repeated]):
                if part:
                    bring(own, folder, str(number), *part)
            outcomes.append((stored(own), set(aside(own)), rejected(own)))
    assert outcomes[0] == outcomes[1] == outcomes[2]
