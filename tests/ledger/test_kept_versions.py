"""Versions kept and let go, what they needed, pins, and merging parts."""

from __future__ import annotations

import datetime as dt
import sqlite3
import threading
from pathlib import Path

import pytest

from monitor.ledger import Fold, Ledger
from shared.errors import LedgerBusy, LedgerError
from shared.facts import FoldFacts, GlitchFact
from tests.ledger.given import CALENDAR, DAY, START_US, load, readings, rows, strokes


def fold(ledger: Ledger, *values: int) -> None:
    """Put one glitch a value in the place of the day's."""
    facts = [
        GlitchFact(load_id=value, line=2, time_us=START_US, counter=value, code="", code_values="") for value in values
    ]
    with ledger.writer(CALENDAR) as writer:
        writer.replace_folds("P01", [Fold("2026-11-02", FoldFacts(glitches=facts), "{}", True)])


def folded(ledger: Ledger, version: int | None = None) -> list[int]:
    return sorted(ledger.snapshot(version).facts("glitches")["load_id"].tolist())


def test_every_kept_version_reads_as_it_did(ledger: Ledger) -> None:
    for value in range(1, 9):
        fold(ledger, value, value + 100)
    ledger.keeper.expire([1, 2, 4, 5, 7])
    while ledger.keeper.purge(1):
        pass
    assert [stored.version for stored in ledger.keeper.versions()] == [3, 6, 8]
    assert [folded(ledger, version) for version in (3, 6, 8)] == [[3, 103], [6, 106], [8, 108]]
    assert ledger.keeper.superseded() == 2 * (1 + 2)  # the folds and facts of versions 3 and 6


def test_newest_and_pinned_versions_are_not_let_go(ledger: Ledger) -> None:
    for value in range(1, 5):
        fold(ledger, value)
    ledger.keeper.pin("weekly report", 2)
    ledger.keeper.expire([1, 2, 3, 4])
    ledger.keeper.purge(100)
    assert [stored.version for stored in ledger.keeper.versions()] == [2, 4]
    assert folded(ledger, 2) == [2]
    assert [(pin.name, pin.version) for pin in ledger.keeper.pins()] == [("weekly report", 2)]
    ledger.keeper.unpin("weekly report")
    ledger.keeper.expire([2])
    with pytest.raises(LedgerError, match="no version 2; expected a version from 4 to 4 that is kept"):
        ledger.snapshot(2)


def test_pin_of_a_version_that_is_gone_or_a_name_that_is_none_is_told(ledger: Ledger) -> None:
    fold(ledger, 1)
    with pytest.raises(LedgerError, match="no version 7"):
        ledger.keeper.pin("report", 7)
    with pytest.raises(LedgerError, match="no pin 'report'"):
        ledger.keeper.unpin("report")


def test_upkeep_steps_do_not_wait_for_a_load(ledger: Ledger) -> None:
    fold(ledger, 1)
    with ledger.writer(CALENDAR), pytest.raises(LedgerBusy):
        ledger.keeper.purge(10)


def test_files_stay_while_they_are_copied(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((0, 100)))
    (ledger.root / "parts" / "00000000-000000.parquet").write_bytes(b"left over")
    with ledger.keeper.files_kept(0):
        failed: list[type[BaseException]] = []

        def remove() -> None:
            try:
                ledger.keeper.remove_files()
            except LedgerBusy as busy:
                failed.append(type(busy))

        thread = threading.Thread(target=remove)
        thread.start()
        thread.join()
    assert failed == [LedgerBusy]
    assert ledger.keeper.remove_files() == 1
    assert readings(ledger.snapshot()) == [(0, 100)]


def test_compaction_leaves_one_part_a_press_day_and_the_rows_as_they_are(ledger: Ledger) -> None:
    for second in (30, 0, 20):
        load(ledger, "strokes", strokes((second, 100 + second), (second + 86_400, 500 + second)))
    load(ledger, "strokes", strokes((86_400 + 50, 550)))
    measured = {"press_id": "P01", "part_no": "N1", "characteristic": "height", "value": 4.0}
    for piece in (2, 1):  # The file of each table is its own.
        record = {**measured, "time": START_US + piece, "piece": piece}
        load(ledger, "measurements", rows("measurements", [record]))
    before, version = ledger.snapshot(), ledger.version
    held = readings(before), before.rows("measurements").to_pylist()
    with ledger.writer(CALENDAR) as writer:
        assert writer.compact((DAY + dt.timedelta(days=1)).isoformat(), 10_000) == 3 + 2
    after = ledger.snapshot()
    assert (readings(after), after.rows("measurements").to_pylist()) == held
    assert parts_of(ledger.root, "2026-11-02") == [("measurements", 2, ";5;6;"), ("strokes", 3, ";1;2;3;")]
    ledger.keeper.expire(range(1, version + 1))
    ledger.keeper.purge(100)
    ledger.keeper.remove_files()
    assert readings(ledger.snapshot()) == held[0]
    with ledger.writer(CALENDAR) as writer:
        assert writer.compact((DAY + dt.timedelta(days=1)).isoformat(), 10_000) == 0
    assert ledger.version == version + 1


def parts_of(root: Path, day: str) -> list[tuple[str, int, str]]:
    catalogue = sqlite3.connect(root / "catalogue.sqlite")
    query = 'SELECT "table", rows, loads FROM stored_parts WHERE day = ? AND removed IS NULL ORDER BY 1'
    found = catalogue.execute(query, (day,)).fetchall()
    catalogue.close()
    return found


def test_digest_of_every_file_is_kept(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((0, 100)))
    file = next((ledger.root / "parts").iterdir())
    catalogue = sqlite3.connect(ledger.root / "catalogue.sqlite")
    kept = catalogue.execute("SELECT file, size, sha256 FROM stored_files").fetchall()
    catalogue.close()
    found = ledger.keeper._files.digest(f"parts/{file.name}")
    assert kept == [found]
    assert found is not None
    assert found.size == file.stat().st_size
