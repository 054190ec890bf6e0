"""A ledger of format 1, stored as it was written then, opens, knows its files and can be written on."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import pytest

from monitor.ledger import Ledger
from tests.ledger.given import CALENDAR, load, readings, strokes

FORMAT_1 = Path(__file__).parents[1] / "data" / "format-1"


@pytest.fixture
def old(tmp_path: Path) -> Path:
    folder = tmp_path / "ledger"
    shutil.copytree(FORMAT_1 / "parts", folder / "parts")
    catalogue = sqlite3.connect(folder / "catalogue.sqlite")
    catalogue.executescript((FORMAT_1 / "catalogue.sql").read_text("utf-8"))
    catalogue.close()
    return folder


def test_rows_and_versions_stand_as_they_were(old: Path) -> None:
    with Ledger.open(old) as ledger:
        assert readings(ledger.snapshot()) == [(0, 100), (10, 105), (20, 102), (30, 106)]
        assert readings(ledger.snapshot(1)) == [(0, 100), (10, 101), (20, 102)]
        assert ledger.snapshot().set_aside_rows()["waits_for"].tolist() == ["presses:P09"]
        with ledger.writer(CALENDAR) as writer:
            assert len(writer.waiting({("presses", "P09")})) == 1
            assert writer.waiting({("presses", "P0"), ("dies", "P09")}) == []
        assert ledger.snapshot().loads()["new"].tolist() == [1, 3, 1, 0]


def test_files_have_digests_and_parts_name_their_loads(old: Path) -> None:
    Ledger.open(old).close()
    catalogue = sqlite3.connect(old / "catalogue.sqlite")
    digests = dict(catalogue.execute("SELECT file, sha256 FROM stored_files").fetchall())
    loads = catalogue.execute("SELECT loads FROM stored_parts WHERE removed IS NULL ORDER BY part_id").fetchall()
    (number,) = catalogue.execute("SELECT value FROM about WHERE name = 'format'").fetchone()
    catalogue.close()
    assert sorted(digests) == ["parts/00000001-000000.parquet", "parts/00000002-000000.parquet"]
    assert all(len(digest) == 64 for digest in digests.values())
    assert {text for (text,) in loads} == {";2;", ";3;"}
    assert number == "3"


def test_file_that_is_missing_does_not_hinder_the_upgrade(old: Path) -> None:
    (old / "parts" / "00000001-000000.parquet").unlink()
    with Ledger.open(old) as ledger:
        assert ledger.version == 2


def test_upgraded_ledger_takes_loads_and_upkeep(old: Path) -> None:
    with Ledger.open(old) as ledger:
        load(ledger, "strokes", strokes((40, 107)))
        with ledger.writer(CALENDAR) as writer:
            assert writer.load_id_of("b" * 64) == 2
            assert writer.load_id_of("d" * 64) is None
        ledger.keeper.expire([1, 2])
        while ledger.keeper.purge(10):
            pass
        ledger.keeper.remove_files()
        assert readings(ledger.snapshot()) == [(0, 100), (10, 105), (20, 102), (30, 106), (40, 107)]


#: Reasons as releases of November 2026 kept them, and the code each has now.
REASONS = {
    "counter is '1,5', expected a whole number from 0 to 9 [strokes]": "count_expected",
    "press_id is 'P{}', expected one that presses has; the row waits for it": "unknown_name",
    'lot is empty, expected text; width_mm is "\'; lot", expected a number': "value_missing;number_expected",
    "some words of long ago, {column} and all; 'x'": "unclassified",
}
REFUSED = {
    "a.csv, line 2: a zero byte, so not plain text; expected UTF-8 text. Save it as UTF-8.": "zero_byte",
    "no table is called 'x'; names start with one of coils, strokes": "unknown_table",
    "the disk was on fire": "unclassified",
}


def old_text(folder: Path) -> None:
    catalogue = sqlite3.connect(folder / "catalogue.sqlite")
    about = 'load_id, "table", file, line, row, waits_for, set_aside_at, added'
    for line, reason in enumerate(REASONS, 100):
        kept = (1, "strokes", "a.csv", line, "{}", "", 5, 1, reason)
        catalogue.execute(f"INSERT INTO set_aside ({about}, reason) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", kept)
    for number, refused in enumerate(REFUSED, 100):
        kept = (number, f"{number}.csv", refused, 1)
        catalogue.execute("INSERT INTO loads (load_id, file, refused, added) VALUES (?, ?, ?, ?)", kept)
    columns = "press_id, day, load_id, line, time_us, counter, reason, added"
    told = "counter rose by 5 to 9; at most 4 strokes were possible since the reading before"
    values = ("P1", "2026-11-02", 1, 7, 5, 9, told, 1)
    catalogue.execute(f"INSERT INTO fact_glitches ({columns}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)", values)
    catalogue.commit()
    catalogue.close()


def test_sentences_become_codes_and_lose_nothing(old: Path) -> None:
    old_text(old)
    for _ in range(2):  # The second time there is nothing left to do.
        with Ledger.open(old) as ledger:
            aside = ledger.snapshot().set_aside_rows().set_index("line").loc[100:]
            loads = ledger.snapshot().loads().set_index("load_id").loc[100:]
        assert dict(zip(aside["reason"], aside["code"], strict=True)) == REASONS
        assert dict(zip(loads["refused"], loads["code"], strict=True)) == REFUSED
    catalogue = sqlite3.connect(old / "catalogue.sqlite")
    assert catalogue.execute("SELECT DISTINCT reason FROM set_aside").fetchall() == [("",)]
    told = catalogue.execute("SELECT reason, code, code_values FROM fact_glitches WHERE line = 7").fetchall()
    catalogue.close()
    assert told == [("", "counter_rose", '[{"rise":"5","counter":"9","most":"4"}]')]
