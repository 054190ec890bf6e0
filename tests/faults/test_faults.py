"""What goes wrong around a ledger: kills, full and read-only disks, two loads at once, readers during a commit."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from monitor.checking import check
from monitor.figures import figure
from monitor.ledger import Ledger
from monitor.loading import load
from shared.errors import LedgerError
from tests.faults.kills import ROOT, run
from tests.ledger.given import CALENDAR
from tests.small import BOOK, strokes, write_book


@pytest.fixture
def drop(tmp_path: Path) -> Path:
    folder = write_book(tmp_path / "drop")
    for number in range(3):
        (folder / f"strokes-{number}.csv").write_text(strokes(number * 60, number * 60 + 60))
    return folder


def work(
    root: Path, folder: Path, room: int | None = None, as_nobody: bool = False
) -> subprocess.CompletedProcess[str]:
    """Load a folder in a program of its own, with so many bytes of room in a file, or without the rights of root."""
    script = "import os, sys; from monitor.cli import main; "
    if room is not None:
        script += f"import resource; resource.setrlimit(resource.RLIMIT_FSIZE, ({room}, {room})); "
    if as_nobody and os.geteuid() == 0:
        script += "os.seteuid(65534); "
    command = [sys.executable, "-c", script + "main()", "load", str(folder), "--ledger", str(root)]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)


def made(ledger: Ledger) -> list[int]:
    return figure(ledger, "shifts")["strokes"].tolist()


def test_killed_work_loses_and_doubles_nothing() -> None:
    outcome = run(2, seed=4, kinds=("load", "upkeep"))
    assert outcome.wrong == []
    assert sum(outcome.killed.values()) + sum(outcome.ended.values()) == 2


@pytest.mark.parametrize("room", [1_500, 400_000])
def test_full_disk_is_told_and_leaves_the_ledger_as_it_was(ledger: Ledger, drop: Path, room: int) -> None:
    load([drop / name for name in BOOK], ledger)
    before = ledger.version
    if room > 1_500:  # The catalogue itself may grow a little; large tables do not fit.
        lines = "".join(f"C{number},L1,DC01,40,1,314\n" for number in range(20_000))
        (drop / "coils-2.csv").write_text("coil_id,lot,material,width_mm,thickness_mm,weight_kg\n" + lines)
    ran = work(ledger.root, drop, room)
    assert ran.returncode == 1
    assert "Traceback" not in ran.stderr
    assert "nothing of this load is kept" in ran.stderr
    assert (ledger.version, check(ledger)) == (before, [])
    load([drop], ledger)
    assert made(ledger) == [179 * 60]
    assert ledger.snapshot().loads()["refused"].tolist().count("") == len(ledger.snapshot().loads())


@pytest.mark.skipif(os.name == "nt", reason="rights are set otherwise there")
def test_folder_that_may_not_be_written_is_told(tmp_path: Path, drop: Path) -> None:
    root = tmp_path / "ledger"
    with Ledger.open(root, create=True) as ledger:
        load([drop / name for name in BOOK], ledger)
    for path in (root, *root.iterdir()):
        path.chmod(0o555 if path.is_dir() else 0o444)
    for path in tmp_path.parents:
        if path.stat().st_uid == os.getuid() and path.name.startswith(("pytest", "popen")):
            path.chmod(0o755)
    tmp_path.chmod(0o755)
    ran = work(root, drop, as_nobody=True)
    assert ran.returncode == 1
    assert "Traceback" not in ran.stderr
    assert "expected a folder with free space that can be written to" in " ".join(ran.stderr.split())


def test_two_loads_at_once_take_everything_once(ledger: Ledger, drop: Path) -> None:
    load([drop / name for name in BOOK], ledger)
    results: list[subprocess.CompletedProcess[str]] = []
    threads = [threading.Thread(target=lambda: results.append(work(ledger.root, drop))) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
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
