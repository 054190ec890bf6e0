"""Opening a ledger, one writer at a time, and what is left when a writer fails or dies."""

from __future__ import annotations

import os
import sqlite3
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import sqlalchemy as sa
from sqlalchemy.pool import PoolProxiedConnection

from monitor.ledger import Ledger
from monitor.ledger.bulk.files import PartFiles, Written
from shared.errors import LedgerError
from tests.ledger.given import CALENDAR, counts, load, readings, rows, strokes

ROOT = Path(__file__).parents[2]


def files(ledger: Ledger) -> list[str]:
    folder = ledger.root / "parts"
    return sorted(path.name for path in folder.iterdir()) if folder.exists() else []


def test_new_ledger_is_empty_and_opens_again(tmp_path: Path) -> None:
    with Ledger.open(tmp_path / "hall" / "ledger", create=True) as ledger:
        assert ledger.version == 0
        assert ledger.snapshot().strokes("P01").num_rows == 0
        assert ledger.snapshot().presses_with_strokes() == []
        assert ledger.snapshot().plant_text() is None
        assert list(ledger.snapshot().loads()) == [
            *("load_id", "file", "table", "rows", "outside", "read", "new", "repeated", "corrected"),
            *("set_aside", "loaded_at", "refused", "profile", "code", "values"),
        ]
    with Ledger.open(tmp_path / "hall" / "ledger") as ledger:
        assert ledger.version == 0


def test_folder_without_a_ledger_is_told(tmp_path: Path) -> None:
    with pytest.raises(LedgerError, match=r"no ledger; expected the folder of a ledger"):
        Ledger.open(tmp_path / "none")
    assert not (tmp_path / "none").exists()


def test_folder_with_other_files_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "thesis.txt").write_text("do not touch")
    with pytest.raises(LedgerError, match="a folder with other files"):
        Ledger.open(tmp_path, create=True)
    assert [path.name for path in tmp_path.iterdir()] == ["thesis.txt"]


def test_ledger_of_a_newer_release_is_refused(tmp_path: Path) -> None:
    Ledger.open(tmp_path, create=True).close()
    with sqlite3.connect(tmp_path / "catalogue.sqlite") as catalogue:
        catalogue.execute("UPDATE about SET value = '4' WHERE name = 'format'")
    catalogue.close()
    with pytest.raises(LedgerError, match=r"format 4, written by a newer release; expected format 3 or older"):
        Ledger.open(tmp_path)


def test_file_that_is_no_catalogue_is_told(tmp_path: Path) -> None:
    (tmp_path / "catalogue.sqlite").write_bytes(b"not a database, just text" * 100)
    with pytest.raises(LedgerError, match="cannot be read"):
        Ledger.open(tmp_path)


def test_older_ledger_gains_the_columns_it_lacks(tmp_path: Path) -> None:
    with Ledger.open(tmp_path, create=True) as ledger:
        load(ledger, "stops", rows("stops", [{"press_id": "P01", "start_at": 0, "reason": "JAM"}]))
    with sqlite3.connect(tmp_path / "catalogue.sqlite") as catalogue:
        catalogue.execute("ALTER TABLE rows_stops DROP COLUMN end_at")
        catalogue.execute("DROP TABLE rows_holds")
        catalogue.execute("UPDATE about SET value = '' WHERE name = 'contract'")
    catalogue.close()
    with Ledger.open(tmp_path) as ledger:
        assert ledger.snapshot().rows("stops")["end_at"].to_pylist() == [None]
        assert ledger.snapshot().rows("holds").num_rows == 0


def test_catalogue_is_durable_and_names_files_by_relative_names(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((0, 100)))
    with ledger._engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2
        assert connection.exec_driver_sql("SELECT file FROM stored_parts").scalar() == "parts/00000001-000000.parquet"


def test_files_and_their_folder_are_synced_before_the_commit(ledger: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    events: list[str] = []
    sync, commit = os.fsync, ledger._engine.dialect.do_commit

    def synced(handle: int) -> None:
        events.append("folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else f"file of {os.fstat(handle).st_size}")
        sync(handle)

    def committed(connection: PoolProxiedConnection) -> None:
        events.append("commit")
        commit(connection)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(ledger._engine.dialect, "do_commit", committed)
    load(ledger, "strokes", strokes((0, 100)))
    size = (ledger.root / "parts" / files(ledger)[0]).stat().st_size
    folder = ["folder"] if os.name == "posix" else []
    assert events == [f"file of {size}", *folder, "commit"]


def test_second_batch_waits_for_the_file_of_the_first(ledger: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    write = PartFiles.write

    def slowly(self: PartFiles, file: str, groups: Sequence[pa.RecordBatch]) -> Written:
        time.sleep(0.2)
        return write(self, file, groups)

    monkeypatch.setattr(PartFiles, "write", slowly)
    merged = load(ledger, "strokes", strokes((0, 100), (10, 101)), strokes((5, 100), (10, 101), (20, 102)))
    assert counts(merged) == (4, 1, 0, 0)
    assert readings(ledger.snapshot()) == [(0, 100), (5, 100), (10, 101), (20, 102)]


def test_ledger_may_be_moved(tmp_path: Path) -> None:
    with Ledger.open(tmp_path / "here", create=True) as ledger:
        load(ledger, "strokes", strokes((0, 100)))
    (tmp_path / "here").rename(tmp_path / "there")
    with Ledger.open(tmp_path / "there") as ledger:
        assert readings(ledger.snapshot()) == [(0, 100)]


def test_files_can_be_read_by_any_engine(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((0, 100), (10, 101)))
    held = pq.read_table(ledger.root / "parts" / files(ledger)[0])
    assert held.select(["press_id", "counter", "line"]).to_pylist() == [
        {"press_id": "P01", "counter": 100, "line": 2},
        {"press_id": "P01", "counter": 101, "line": 3},
    ]
    assert str(held.schema.field("time").type) == "timestamp[us, tz=UTC]"


def test_one_row_group_for_each_press_and_day(ledger: Ledger) -> None:
    day = 86_400
    load(ledger, "strokes", strokes((0, 100), (day, 200), (10, 101), (2 * day, 300)))
    assert pq.ParquetFile(ledger.root / "parts" / files(ledger)[0]).metadata.num_row_groups == 3


def test_writer_that_writes_nothing_makes_no_version(ledger: Ledger) -> None:
    with ledger.writer(CALENDAR) as writer:
        assert writer.load_id_of("unknown") is None
    assert ledger.version == 0


def write_and_fail(ledger: Ledger) -> None:
    with ledger.writer(CALENDAR) as writer:
        load_id = writer.begin_load("strokes.csv", "strokes", "failed", 1)
        writer.merge("strokes", strokes((10, 101)), load_id)
        assert readings(writer) == [(0, 100), (10, 101)]
        writer.put_plant('timezone = "UTC"')
        writer.finish_load(load_id)
        raise ZeroDivisionError


def test_failed_writer_leaves_no_trace(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((0, 100)))
    kept = files(ledger)
    with pytest.raises(ZeroDivisionError):
        write_and_fail(ledger)
    assert (ledger.version, files(ledger)) == (1, kept)
    assert readings(ledger.snapshot()) == [(0, 100)]
    assert ledger.snapshot().plant_text() is None
    with ledger.writer(CALENDAR) as writer:
        assert writer.load_id_of("failed") is None


def test_commit_that_fails_leaves_only_a_file_that_the_next_writer_removes(
    ledger: Ledger, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_connection: object) -> None:
        raise sa.exc.OperationalError("COMMIT", {}, sqlite3.OperationalError("database or disk is full"))

    with monkeypatch.context() as patched:
        patched.setattr(ledger._engine.dialect, "do_commit", full)
        with pytest.raises(LedgerError, match="disk is full; nothing of this load is kept"):
            load(ledger, "strokes", strokes((0, 100)))
    assert ledger.version == 0
    assert len(files(ledger)) == 1
    load(ledger, "strokes", strokes((20, 102)))
    assert readings(ledger.snapshot()) == [(20, 102)]
    assert len(files(ledger)) == 1


def test_file_that_cannot_be_written_fails_the_load(ledger: Ledger) -> None:
    (ledger.root / "parts").write_text("in the way")
    with pytest.raises(LedgerError, match="nothing of this load is kept"):
        load(ledger, "strokes", strokes((0, 100)))
    assert ledger.version == 0


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL")
def test_killed_between_file_and_commit_loses_that_load_only(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((0, 100)))
    command = [sys.executable, "-m", "tests.ledger.killed", str(ledger.root)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60, check=False)
    assert (done.stdout, done.returncode) == ("written\n", -9), done.stderr
    assert len(files(ledger)) == 2
    assert ledger.version == 1
    assert readings(ledger.snapshot()) == [(0, 100)]
    load(ledger, "strokes", strokes((50, 500)))
    assert readings(ledger.snapshot()) == [(0, 100), (50, 500)]
    assert len(files(ledger)) == 2


def test_reader_of_an_older_version_is_not_disturbed(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((0, 100), (10, 101)))
    before = ledger.snapshot()
    with ledger.writer(CALENDAR) as writer:
        load_id = writer.begin_load("b.csv", "strokes", "b", 1, correct=True)
        writer.merge("strokes", strokes((10, 500), (20, 501)), load_id)
        assert readings(writer) == [(0, 100), (10, 500), (20, 501)]
        assert readings(before) == [(0, 100), (10, 101)]
        assert readings(ledger.snapshot()) == [(0, 100), (10, 101)]
        writer.finish_load(load_id)
    assert readings(before) == [(0, 100), (10, 101)]
    assert before.loads()["load_id"].tolist() == [1]
    assert readings(ledger.snapshot()) == [(0, 100), (10, 500), (20, 501)]


def test_version_that_never_was_is_told(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((0, 100)))
    with pytest.raises(LedgerError, match="no version 7; expected a version from 1 to 1"):
        ledger.snapshot(7)


def test_second_writer_waits_for_the_first(ledger: Ledger) -> None:
    inside, go_on = threading.Event(), threading.Event()

    def first() -> None:
        with ledger.writer(CALENDAR) as writer:
            load_id = writer.begin_load("a.csv", "strokes", "a", 1)
            inside.set()
            go_on.wait(30)
            writer.merge("strokes", strokes((0, 100)), load_id)
            writer.finish_load(load_id)

    def second() -> None:
        with Ledger.open(ledger.root) as other:
            load(other, "strokes", strokes((0, 100), (10, 101)))

    threads = [threading.Thread(target=first), threading.Thread(target=second)]
    threads[0].start()
    assert inside.wait(30)
    threads[1].start()
    go_on.set()
    for thread in threads:
        thread.join(30)
    assert ledger.version == 2
    assert readings(ledger.snapshot()) == [(0, 100), (10, 101)]
    assert ledger.snapshot(1).loads()["file"].tolist() == ["a.csv"]


def test_second_writer_that_will_not_wait_is_told_why(ledger: Ledger) -> None:
    with (
        ledger.writer(CALENDAR),
        pytest.raises(LedgerError, match=r"another load still at work after 0.1 seconds"),
        ledger.writer(CALENDAR, wait_s=0.1),
    ):
        pass
    load(ledger, "strokes", strokes((0, 100)))
    assert ledger.version == 1


def test_many_readers_while_one_writes(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((0, 100)))
    failures: list[object] = []
    stop = threading.Event()

    def read() -> None:
        while not stop.is_set():
            snapshot = ledger.snapshot()
            held = readings(snapshot)
            if len(held) != snapshot.version:
                failures.append((snapshot.version, held))

    threads = [threading.Thread(target=read) for _ in range(3)]
    for thread in threads:
        thread.start()
    for n in range(1, 12):
        load(ledger, "strokes", strokes((n, 100 + n)))
    stop.set()
    for thread in threads:
        thread.join(30)
    assert failures == []


def test_rows_that_reach_into_a_span_however_early_they_began(tmp_path: Path) -> None:
    with Ledger.open(tmp_path / "ledger", create=True) as ledger:
        boxes = [("LONG", 0, 900), ("OPEN", 500, None), ("STALE", 10, None), ("OVER", 0, 600), ("LATER", 800, 900)]
        given = [
            {"container_id": name, "part_no": "N", "press_id": "P1", "opened_at": begin, "closed_at": end}
            for name, begin, end in boxes
        ]
        load(ledger, "containers", rows("containers", given))
        found = ledger.snapshot().spanning("containers", "P1", "closed_at", 600, 800, open_us=200)
        assert [row["container_id"] for row in found] == ["LONG", "OPEN"]
        assert ledger.snapshot().spanning("containers", "P2", "closed_at", 600, 800, open_us=200) == []
