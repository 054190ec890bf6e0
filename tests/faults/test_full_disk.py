"""A disk that is really full: told in a plain sentence, with nothing half-made left and the ledger as it was."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner

from monitor.check import check
from monitor.cli.main import app
from monitor.ledger import Ledger
from monitor.load.files import load
from tests.faults import apart
from tests.invented.small import strokes, write_book

HEADINGS = "order_id,part_no,quantity\n"


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A disk of its own with 4 kB of room."""
    folder = tmp_path_factory.mktemp("full")
    command = ["mount", "-t", "tmpfs", "-o", "size=4k", "tmpfs", str(folder)]
    if os.name == "nt" or subprocess.run(command, capture_output=True, check=False).returncode:
        pytest.skip("a disk of its own cannot be made here")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger with a shift, 200 orders and 200 rows set aside."""
    folder = tmp_path_factory.mktemp("made")
    book = write_book(folder / "book")
    (book / "parts.csv").write_text("part_no,net_weight_g,customer\nN1,5,K\n")
    (book / "strokes-1.csv").write_text(strokes(0, 480))
    (book / "orders-1.csv").write_text(HEADINGS + "".join(f"O{number},N1,{number}\n" for number in range(200)))
    (book / "orders-2.csv").write_text(HEADINGS + "".join(f"Q{number},N1,lots\n" for number in range(200)))
    with Ledger.open(folder / "ledger", create=True) as ledger:
        load([book], ledger)
    return folder / "ledger"


COMMANDS = [
    ["backup", "{full}/copies/copy"],
    ["figures", "set_aside", "--format", "csv", "--out", "{full}/held.csv"],
    ["figures", "set_aside", "--format", "parquet", "--out", "{full}/held.parquet"],
    ["set-aside", "export", "--out", "{full}/held.csv"],
    ["week", "--customer", "K", "--week", "2026-W45", "--format", "xlsx,html,data", "--out", "{full}/papers", "--sent"],
    ["hand-over", "--date", "2026-11-02", "--shift", "early", "--out", "{full}/hand-over.pdf"],
]


@pytest.mark.parametrize("command", COMMANDS, ids=lambda words: "-".join(words[:4:2]).replace("{full}", ""))
def test_a_full_disk_is_told_and_leaves_nothing_half_made(full: Path, root: Path, command: list[str]) -> None:
    words = [word.format(full=full) for word in command]
    ran = CliRunner().invoke(app, [*words, "--ledger", str(root)], env={"COLUMNS": "200"})
    assert ran.exit_code == 1
    told = str(ran.exception)
    assert "; expected a folder with free space" in told
    assert "No space left on device" in told or "full" in told
    assert [word for word in ("Traceback", "sqlite3", "SQL", "Error") if word in told] == []
    assert list(full.rglob("*")) == []
    # What was not written was not sent.
    assert not (root / "sent_reports.jsonl").exists()


def test_what_stood_there_before_stands_there_still(full: Path, root: Path) -> None:
    out = full / "held.csv"
    out.write_text("as it was")
    ran = CliRunner().invoke(app, ["figures", "set_aside", "--format", "csv", "--out", str(out), "--ledger", str(root)])
    assert ran.exit_code == 1
    assert [path.read_text() for path in full.iterdir()] == ["as it was"]
    out.unlink()


def test_a_ledger_is_begun_once_there_is_room(full: Path, root: Path) -> None:
    told = full.parent / f"{full.name}-told"
    book = str(root.parent / "book")
    ran = apart.ended(apart.start(apart.command, ["load", book, "--ledger", str(full / "ledger")], told), told)
    assert ran.returncode == 1
    assert "free space" in ran.stderr
    assert [word for word in ("Traceback", "sqlite3", "[SQL") if word in ran.stderr] == []
    subprocess.run(["mount", "-o", "remount,size=16m", str(full)], check=True)
    with Ledger.open(full / "ledger", create=True) as ledger:
        load([root.parent / "book"], ledger)
        assert (ledger.version, check(ledger)) == (1, [])


@pytest.mark.parametrize("room", [1_500, 400_000])
def test_a_limit_for_files_leaves_no_half_of_a_backup(root: Path, tmp_path: Path, room: int) -> None:
    told = tmp_path / "told"
    words = ["backup", str(tmp_path / "copies" / "copy"), "--ledger", str(root)]
    ran = apart.ended(apart.start(apart.command, words, told, room), told)
    assert ran.returncode == 1
    assert "free space" in ran.stderr or "room for its copy" in ran.stderr
    assert "Traceback" not in ran.stderr
    assert [path.name for path in tmp_path.rglob("*") if "copy" in path.name] == []
    with Ledger.open(root) as ledger:
        assert check(ledger) == []
