"""What a check finds, what it says to do, and that doing it heals; backup and restore."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from monitor.check import check
from monitor.figures import figure
from monitor.keep.backup import backup, restore
from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.report.register import REGISTER
from shared.errors import LedgerError
from tests.invented.small import BOOK, strokes, write_book


@pytest.fixture
def drop(tmp_path: Path) -> Path:
    folder = write_book(tmp_path / "drop")
    (folder / "presses.csv").write_text("press_id,rated_spm\nP1,60\nP2,60\n")
    for press, first in (("P1", 0), ("P1", 20), ("P2", 0)):
        (folder / f"strokes-{press}-{first}.csv").write_text(strokes(first, first + 15, press))
    return folder


@pytest.fixture
def filled(ledger: Ledger, drop: Path) -> Ledger:
    load([drop / name for name in BOOK], ledger)
    for name in ("strokes-P1-0.csv", "strokes-P1-20.csv", "strokes-P2-0.csv"):
        load([drop / name], ledger)
    return ledger


def parts(ledger: Ledger) -> list[Path]:
    return sorted((ledger.root / "parts").iterdir())


def sql(ledger: Ledger, text: str) -> None:
    catalogue = sqlite3.connect(ledger.root / "catalogue.sqlite")
    with catalogue:
        catalogue.execute(text)
    catalogue.close()


def table(ledger: Ledger, name: str = "shifts") -> list[dict[str, object]]:
    return figure(ledger, name).astype("str").to_dict("records")  # type: ignore[return-value]


@pytest.mark.parametrize("deep", [False, True])
def test_sound_ledger_has_no_findings(filled: Ledger, deep: bool) -> None:
    assert check(filled, deep) == []


def damage(file: Path, how: str) -> None:
    if how == "missing":
        file.unlink()
    elif how == "cut short":
        file.write_bytes(file.read_bytes()[:-20])
    else:
        data = bytearray(file.read_bytes())
        data[len(data) // 2] ^= 0xFF
        file.write_bytes(data)


@pytest.mark.parametrize(
    ("how", "told"), [("missing", "is missing"), ("cut short", "bytes instead of"), ("changed", "holds other bytes")]
)
def test_damaged_file_is_named_with_its_loads_and_loading_them_heals(
    filled: Ledger, drop: Path, how: str, told: str
) -> None:
    before = table(filled), filled.snapshot().strokes("P1").drop_columns("load_id").to_pylist()
    damage(parts(filled)[0], how)
    found = check(filled)
    assert told in found[0].what
    assert found[0].what.startswith("parts/00000002-000000.parquet")
    assert "load these files again, all at once and in this order: strokes-P1-0.csv (load 11)" in found[0].mend
    # Figures stand on facts, and other presses on other files.
    assert table(filled) == before[0]
    assert filled.snapshot().strokes("P2").num_rows == 15
    report = load([drop / "strokes-P1-0.csv"], filled)
    assert report.files[0].new == 15
    assert (table(filled), filled.snapshot().strokes("P1").drop_columns("load_id").to_pylist()) == before
    # The damaged file is needed by older versions alone, until upkeep lets them go.
    assert [finding.mend.partition(";")[0] for finding in check(filled)] == ["only older versions need it"]


def test_loads_go_on_beside_a_damaged_file_and_catch_up_when_it_is_healed(filled: Ledger, drop: Path) -> None:
    damage(parts(filled)[0], "missing")
    check(filled)
    for press in ("P1", "P2"):
        (drop / f"strokes-{press}-40.csv").write_text(strokes(40, 50, press))
    report = load([drop / "strokes-P1-40.csv", drop / "strokes-P2-40.csv"], filled)
    assert [file.new for file in report.files] == [10, 10]
    assert report.refolded is not None
    assert report.refolded.left == 1
    made = {row["press_id"]: row["strokes"] for row in table(filled)}
    assert made == {"P1": str(34 * 60), "P2": str(49 * 60)}
    load([drop / "strokes-P1-0.csv"], filled)
    assert {row["press_id"]: row["strokes"] for row in table(filled)} == {"P1": str(49 * 60), "P2": str(49 * 60)}


def test_lost_load_is_named_until_it_is_loaded_again(ledger: Ledger, drop: Path) -> None:
    load([drop], ledger)  # one file of parts for both loads of P1
    ledger.keeper.note("upkeep", "0")
    with ledger.writer(_calendar(ledger)) as writer:
        writer.compact("2027-01-01", 1_000)
    damage(parts(ledger)[-1], "changed")
    (finding,) = [finding for finding in check(ledger) if "strokes-P1-0.csv" in finding.mend]
    assert "strokes-P1-20.csv" in finding.mend
    load([drop / "strokes-P1-0.csv"], ledger)
    assert [f.mend for f in check(ledger) if "were lost" in f.what] == ["load strokes-P1-20.csv again"]
    load([drop / "strokes-P1-20.csv"], ledger)
    assert [f.mend for f in check(ledger) if "were lost" in f.what] == []
    assert ledger.snapshot().strokes("P1").num_rows == 30


def _calendar(ledger: Ledger):  # type: ignore[no-untyped-def]
    from monitor.plant.book import plant_of
    from shared.calendar import Calendar

    return Calendar(plant_of(ledger.snapshot().plant_text()))


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ("UPDATE loads SET new = new - 1 WHERE load_id = 12", "(strokes-P1-20.csv) read 15 rows but accounts for 14"),
        ("UPDATE loads SET new = 14, set_aside = 1 WHERE load_id = 12", "counts 1 rows set aside but 0 are"),
        ("UPDATE stored_parts SET rows = 14 WHERE rows = 15", "holds other rows in group 0 than the 14 noted"),
        ("UPDATE fact_strokes SET strokes = strokes + 1", "strokes of P1 on 2026-11-02"),
        ("UPDATE fact_time SET running_us = running_us + 5000000", "planned_s is not running_s + stopped_s"),
        ("UPDATE folds SET added = 99", "folds names a version after"),
    ],
)  # fmt: skip
def test_what_does_not_close_is_found(filled: Ledger, change: str, told: str) -> None:
    sql(filled, change)
    found = check(filled)
    assert any(told in finding.what for finding in found), found
    assert all(finding.mend for finding in found)


def test_deep_check_finds_a_fact_that_no_fold_gives(filled: Ledger) -> None:
    sql(filled, "UPDATE fact_pieces SET pieces = pieces + 1 WHERE press_id = 'P1'")
    assert any("pieces facts are not those of a fold from scratch" in finding.what for finding in check(filled, True))


def test_backup_is_a_whole_ledger_of_its_moment(filled: Ledger, drop: Path, tmp_path: Path) -> None:
    before = table(filled)
    copied = backup(filled, tmp_path / "copy")
    assert (copied.size > 10_000, copied.lacking) == (True, [])
    (drop / "strokes-P1-40.csv").write_text(strokes(40, 50))
    load([drop / "strokes-P1-40.csv"], filled)
    restore(tmp_path / "copy", tmp_path / "restored")
    with Ledger.open(tmp_path / "restored") as restored:
        assert check(restored) == []
        assert table(restored) == before
        report = load([drop], restored)
        assert sum(file.new for file in report.files) == 10
        assert table(restored) == table(filled)
    damage(parts(filled)[0], "changed")
    with Ledger.open(tmp_path / "copy") as copy:
        assert check(copy) == []


def test_backup_takes_the_registers_of_reports_along(filled: Ledger, tmp_path: Path) -> None:
    (filled.root / REGISTER).write_text('{"customer": "K"}\n', "utf-8")
    backup(filled, tmp_path / "copy", link=True)
    with (filled.root / REGISTER).open("a", encoding="utf-8") as file:
        file.write('{"customer": "later"}\n')
    restore(tmp_path / "copy", tmp_path / "again")
    assert (tmp_path / "again" / REGISTER).read_text("utf-8") == '{"customer": "K"}\n'


def test_backup_while_a_load_writes_is_whole(filled: Ledger, tmp_path: Path) -> None:
    with filled.writer(_calendar(filled)) as writer:
        load_id = writer.begin_load("half.csv", "stops", "half", 1)
        backup(filled, tmp_path / "copy")
        writer.finish_load(load_id)
    with Ledger.open(tmp_path / "copy") as copy:
        assert check(copy) == []
        assert "half.csv" not in copy.snapshot().loads()["file"].tolist()


def test_backup_and_restore_overwrite_nothing(filled: Ledger, tmp_path: Path) -> None:
    with pytest.raises(LedgerError, match="that is there already"):
        backup(filled, filled.root)
    backup(filled, tmp_path / "copy")
    with pytest.raises(LedgerError, match="not empty"):
        restore(tmp_path / "copy", filled.root)
