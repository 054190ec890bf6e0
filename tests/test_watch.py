"""Files are taken once they are finished, once each, whatever happens to the folder."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor import watch as watching
from monitor.ledger import Ledger
from monitor.watch import FolderWatch, scan_folder
from shared.errors import LedgerError
from tests.invented.small import BOOK, strokes, write_book


class Clock:
    """A clock that goes on when told to."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


class Watched:
    """A watched folder with what the watch said."""

    def __init__(self, ledger: Ledger, folder: Path) -> None:
        self.ledger, self.folder = ledger, folder
        self.said: list[str] = []
        self.clock = Clock()
        self.begin()

    def begin(self) -> None:
        self.watch = FolderWatch(self.ledger, self.folder, self.said.append, self.clock)

    def look(self, times: int = 1) -> list[str]:
        """Look so many times; returns the files that were loaded."""
        names = []
        for _ in range(times):
            self.clock.now_s += 1
            report = self.watch.step()
            names += [file.file for file in report.files] if report else []
        return names

    def put(self, name: str, text: str) -> Path:
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")
        return path


@pytest.fixture
def watched(ledger: Ledger, tmp_path: Path) -> Watched:
    found = Watched(ledger, write_book(tmp_path / "drop"))
    assert len(found.look(2)) == len(BOOK)
    return found


def loads(watched: Watched) -> list[tuple[str, int, int]]:
    held = watched.ledger.snapshot().loads()
    held = held[held["table"] == "strokes"]
    return list(zip(held["file"], held["new"].tolist(), held["repeated"].tolist(), strict=True))


def test_file_is_taken_at_the_second_look_that_finds_it_the_same(watched: Watched) -> None:
    watched.put("strokes-1.csv", strokes(0, 3))
    assert watched.look() == []
    assert watched.look() == ["strokes-1.csv"]
    assert watched.look(3) == []
    assert watched.said[-1].endswith("3 rows = 3 new + 0 repeated + 0 corrected + 0 set aside; version 2")


def test_readings_that_reckoning_sets_aside_are_told_with_their_file(watched: Watched) -> None:
    watched.put("strokes-1.csv", strokes(0, 3) + "2026-11-02T06:03:00,P1,999999\n" + strokes(4, 6).partition("\n")[2])
    watched.look(2)
    assert "strokes-1.csv: 1 of the new readings cannot be true and count as set aside" in watched.said
    said = len(watched.said)
    watched.put("strokes-2.csv", strokes(6, 8))
    watched.look(2)
    assert not any("cannot be true" in line for line in watched.said[said:])


def test_file_that_is_being_written_waits(watched: Watched) -> None:
    for last in (2, 4, 6):
        watched.put("strokes-1.csv", strokes(0, last))
        assert watched.look() == []
    assert watched.look() == ["strokes-1.csv"]
    assert loads(watched) == [("strokes-1.csv", 6, 0)]


def test_all_that_is_finished_is_one_load(watched: Watched) -> None:
    version = watched.ledger.version
    for number in range(5):
        watched.put(f"line/strokes-{number}.csv", strokes(10 * number, 10 * number + 5))
    assert len(watched.look(2)) == 5
    assert watched.ledger.version == version + 1


def test_file_that_goes_on_growing_gives_repeats_and_new_rows(watched: Watched) -> None:
    watched.put("strokes-1.csv", strokes(0, 3))
    watched.look(2)
    watched.put("strokes-1.csv", strokes(0, 5))
    assert watched.look(2) == ["strokes-1.csv"]
    assert loads(watched) == [("strokes-1.csv", 3, 0), ("strokes-1.csv", 2, 3)]


def test_renamed_file_is_known_by_what_it_holds(watched: Watched) -> None:
    path = watched.put("strokes-1.csv", strokes(0, 3))
    watched.look(2)
    path.rename(path.with_name("strokes-done.csv"))
    watched.look(2)
    assert loads(watched) == [("strokes-1.csv", 3, 0)]
    assert watched.look(2) == []


def test_what_was_taken_is_known_after_a_restart_and_not_read_again(
    watched: Watched, monkeypatch: pytest.MonkeyPatch
) -> None:
    watched.put("strokes-1.csv", strokes(0, 3))
    watched.look(2)
    monkeypatch.setattr(watching, "open_plain", lambda _: pytest.fail("an old file was opened"))
    watched.begin()
    assert watched.look(3) == []


def test_refused_file_is_told_once_and_taken_when_it_is_mended(watched: Watched) -> None:
    watched.put("strokes-1.csv", "nothing that is expected\n1\n")
    watched.look(6)
    assert len([line for line in watched.said if line.startswith("strokes-1.csv is refused")]) == 1
    watched.put("strokes-1.csv", strokes(0, 3))
    watched.look(2)
    assert loads(watched)[-1] == ("strokes-1.csv", 3, 0)


def test_folder_that_vanishes_is_told_once_and_taken_up_when_it_is_back(watched: Watched) -> None:
    away = watched.folder.with_name("away")
    watched.folder.rename(away)
    assert watched.look(4) == []
    away.rename(watched.folder)
    watched.put("strokes-1.csv", strokes(0, 3))
    assert watched.look(2) == ["strokes-1.csv"]
    about = [line for line in watched.said if "cannot look into" in line or "is back" in line]
    assert len(about) == 2
    assert loads(watched) == [("strokes-1.csv", 3, 0)]


def test_load_that_fails_is_told_and_tried_again_later(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    real = watching.load

    def failing(*_: object, **_more: object) -> None:
        raise LedgerError("ledger", "No space left on device", "a folder with free space", "mend the disk")

    monkeypatch.setattr(watching, "load", failing)
    watched.put("strokes-1.csv", strokes(0, 3))
    assert watched.look(2) == []
    assert "1 files wait 30 s for another try: ledger: No space left" in watched.said[-1]
    monkeypatch.setattr(watching, "load", real)
    assert watched.look(5) == []
    watched.clock.now_s += watching.AGAIN_S
    assert watched.look() == ["strokes-1.csv"]


def test_file_that_cannot_be_opened_waits(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    watched.put("strokes-1.csv", strokes(0, 3))

    def shut(_path: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(watching, "open_plain", shut)
    assert watched.look(4) == []
    assert watched.said[-1] == "strokes-1.csv cannot be opened (Permission denied); it waits until it can be"
    monkeypatch.undo()
    assert watched.look() == ["strokes-1.csv"]


def test_hidden_files_are_left_out_and_links_stand_for_themselves(tmp_path: Path) -> None:
    (tmp_path / "sub").mkdir()
    for name in ("strokes-1.csv", ".strokes-2.csv", "~lock.csv", "sub/coils.csv"):
        (tmp_path / name).write_text("x")
    (tmp_path / "strokes-3.csv").symlink_to(tmp_path / "nowhere")
    (tmp_path / "sub" / "round").symlink_to(tmp_path)
    assert sorted(scan_folder(tmp_path)) == ["strokes-1.csv", "strokes-3.csv", "sub/coils.csv", "sub/round"]


def test_screens_are_told_where_it_stands(watched: Watched) -> None:
    watched.put("strokes-1.csv", strokes(0, 3))
    watched.clock.now_s += watching.TELL_EVERY_S
    watched.look()
    state = watched.ledger.keeper.seen.read_status()
    assert (state["files"], state["waiting"], state["taken"], state["running"]) == (len(BOOK) + 1, 1, len(BOOK), True)
    assert state["problem"] == ""


def test_thread_takes_a_file_within_five_seconds_and_stops_when_told(ledger: Ledger, tmp_path: Path) -> None:
    folder = write_book(tmp_path / "drop")
    stop, said = threading.Event(), list[str]()
    thread = threading.Thread(target=FolderWatch(ledger, folder, said.append).run, args=(stop,))
    thread.start()
    try:
        _until(lambda: ledger.version == 1)
        (folder / "strokes-1.csv").write_text(strokes(0, 3))
        began = time.monotonic()
        _until(lambda: ledger.version == 2)
        assert time.monotonic() - began < 5
    finally:
        stop.set()
        thread.join(10)
    assert not thread.is_alive()
    assert said[-1].startswith("stopped watching")


def _until(true: Callable[[], bool], seconds: float = 20) -> None:
    ends = time.monotonic() + seconds
    while not true() and time.monotonic() < ends:
        time.sleep(0.05)
    assert true()
