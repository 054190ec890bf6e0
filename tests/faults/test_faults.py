"""What goes wrong around a ledger: kills, full and read-only disks, two loads at once, readers during a commit."""

from __future__ import annotations

import os
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.check import check
from monitor.figures import figure
from monitor.ledger import Ledger
from monitor.load.files import load
from shared.errors import LedgerError
from tests.faults import apart
from tests.faults.kills import run
from tests.invented.small import BOOK, strokes, write_book
from tests.ledger.given import CALENDAR


@pytest.fixture
def drop(tmp_path: Path) -> Path:
    folder = write_book(tmp_path / "drop")
    for number in range(3):
        (folder / f"strokes-{number}.csv").write_text(strokes(number * 60, number * 60 + 60))
    return folder


def work(root: Path, folder: Path, told: Path, room: int | None = None, as_nobody: bool = False) -> apart.Ended:
    """Load a folder in a program of its own, with so many bytes of room in a file, or without the rights of root."""
    return apart.ended(apart.start(apart.command, loading(root, folder), told, room, as_nobody), told)


def loading(root: Path, folder: Path) -> list[str]:
    return ["load", str(folder), "--ledger", str(root)]


def made(ledger: Ledger) -> list[int]:
    return figure(ledger, "shifts")["strokes"].tolist()


def test_killed_work_loses_and_doubles_nothing() -> None:
    outcome = run(2, seed=4, kinds=("load", "upgrade"))
    assert outcome.wrong == []
    assert sum(outcome.killed.values()) + sum(outcome.ended.values()) == 2


@pytest.mark.slow
def test_killed_entries_holds_releases_restores_and_reports_lose_and_double_nothing() -> None:
    outcome = run(5, seed=5, kinds=("enter", "hold", "release", "restore", "report"))
    assert outcome.wrong == []
    assert sum(outcome.killed.values()) + sum(outcome.ended.values()) == 5


@pytest.mark.parametrize("room", [1_500, 400_000])
def test_full_disk_is_told_and_leaves_the_ledger_as_it_was(
    ledger: Ledger, drop: Path, tmp_path: Path, room: int
) -> None:
    load([drop / name for name in BOOK], ledger)
    before = ledger.version
    if room > 1_500:  # The catalogue itself may grow a little; large tables do not fit.
        lines = "".join(f"C{number},L1,DC01,40,1,314\n" for number in range(20_000))
        (drop / "coils-2.csv").write_text("coil_id,lot,material,width_mm,thickness_mm,weight_kg\n" + lines)
    ran = work(ledger.root, drop, tmp_path / "told", room)
    assert ran.returncode == 1
    assert "Traceback" not in ran.stderr
    assert "nothing of this load is kept" in ran.stderr
    assert (ledger.version, check(ledger)) == (before, [])
    load([drop], ledger)
    assert made(ledger) == [179 * 60]
    assert ledger.snapshot().loads()["refused"].tolist().count("") == len(ledger.snapshot().loads())


@pytest.fixture
def open_to_all() -> Iterator[Path]:
    """A folder of which every folder above can be entered by anybody."""
    with tempfile.TemporaryDirectory(prefix="strokeledger-") as folder:
        Path(folder).chmod(0o777)
        yield Path(folder)


@pytest.mark.skipif(os.name == "nt", reason="rights are set otherwise there")
@pytest.mark.parametrize(
    ("rights", "told"),
    [
        (0o555, "expected a folder with free space that can be written to"),
        (0o000, "expected a folder that can be read and written by whoever runs this"),
    ],
)
def test_folder_that_may_not_be_used_is_told(open_to_all: Path, rights: int, told: str) -> None:
    drop = write_book(open_to_all / "drop")
    (drop / "strokes-1.csv").write_text(strokes(0, 60))
    root = open_to_all / "ledger"
    with Ledger.open(root, create=True) as ledger:
        load([drop / name for name in BOOK], ledger)
    for path in (*root.iterdir(), root):
        path.chmod(rights if path.is_dir() else 0o444)
    ran = work(root, drop, open_to_all / "told", as_nobody=True)
    root.chmod(0o755)
    assert ran.returncode == 1
    assert "Traceback" not in ran.stderr
    assert told in " ".join(ran.stderr.split())
    with Ledger.open(root) as ledger:
        assert (ledger.version, check(ledger)) == (1, [])


def test_two_loads_at_once_take_everything_once(ledger: Ledger, drop: Path, tmp_path: Path) -> None:
    load([drop / name for name in BOOK], ledger)
    files = [tmp_path / "told-1", tmp_path / "told-2"]
    programs = [apart.start(apart.command, loading(ledger.root, drop), told) for told in files]
    results = [apart.ended(program, told) for program, told in zip(programs, files, strict=True)]
    assert [ran.returncode for ran in results] == [0, 0]
    assert made(ledger) == [179 * 60]
    assert ledger.snapshot().loads()["new"].sum() == len(BOOK) + 2 + 180
    assert check(ledger) == []


def test_reader_sees_one_version_while_loads_and_upkeep_commit(ledger: Ledger, drop: Path) -> None:
    load([drop / name for name in BOOK], ledger)
    stop, wrong, seen = threading.Event(), list[str](), set[int]()

    def read() -> None:
        with Ledger.open(ledger.root) as own:
            while not stop.is_set():
                snapshot = own.snapshot()
                facts = int(snapshot.facts("strokes")["strokes"].sum())
                counters = snapshot.strokes("P1").column("counter").to_pylist()
                seen.add(len(counters))
                if facts != (counters[-1] - counters[0] if counters else 0):
                    wrong.append(
                        f"version {snapshot.version}: {facts} strokes, counters {counters[:1]} {counters[-1:]}"
                    )

    reader = threading.Thread(target=read)
    reader.start()
    for number in range(3):
        load([drop / f"strokes-{number}.csv"], ledger)
        ledger.keeper.purge(100)
        ledger.keeper.remove_files()
    stop.set()
    reader.join()
    assert wrong == []
    assert seen <= {0, 60, 120, 180}


def test_load_waits_for_another_and_says_so_in_the_end(ledger: Ledger, drop: Path) -> None:
    load([drop], ledger)
    with (
        ledger.writer(CALENDAR),
        pytest.raises(LedgerError, match="another load still at work after"),
        ledger.writer(CALENDAR, wait_s=0.1),
    ):
        pass
