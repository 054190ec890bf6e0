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
    assert number == "2"


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
