"""The commands that look after a ledger and the rows set aside, as a person types them."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from typer.testing import CliRunner

from monitor.cli.main import app
from monitor.ledger import Ledger
from monitor.load.files import load
from tests.invented.small import strokes, write_book

ROOT = Path(__file__).parents[2]


@pytest.fixture
def root(tmp_path: Path) -> Path:
    drop = write_book(tmp_path / "drop")
    text = strokes(0, 3) + "2026-11-02T06:03:00,P1,18O\n2026-11-02T06:04:00,P1,24O\n"
    (drop / "strokes-1.csv").write_text(text + "2026-11-02T06:05:00,P1,[bold]\n")
    with Ledger.open(tmp_path / "ledger", create=True) as ledger:
        load([drop], ledger)
    return tmp_path / "ledger"


def run(*words: object, code: int = 0) -> str:
    ran = CliRunner().invoke(app, [str(word) for word in words], env={"COLUMNS": "200"})
    assert ran.exit_code == code, ran.output
    return ran.output


def test_rows_set_aside_are_grouped_and_shown_as_they_came(root: Path) -> None:
    told = run("set-aside", "list", "--ledger", root, "--most", 2)
    assert "3 rows of strokes in 1 files, count_expected: counter is '18O'" in told
    assert '"counter": "24O"' in told
    assert "1 more" in told
    assert '"counter": "[bold]"' in run("set-aside", "list", "--ledger", root, "--reason", "count_expected")
    assert "no rows are set aside" in run("set-aside", "list", "--ledger", root, "--press", "P2")


def test_value_and_mended_csv_let_rows_in(root: Path, tmp_path: Path) -> None:
    told = run("set-aside", "release", 1, "--ledger", root, "--value", "counter=180", "--by", "K. Berg")
    assert told == "1 rows let in, 0 stay; ledger version 2\n"
    out = tmp_path / "mend.csv"
    run("set-aside", "export", "--ledger", root, "--out", out)
    out.write_text(out.read_text("utf-8-sig").replace(",24O", ",240"))
    told = run("set-aside", "release", "--from", out, "--ledger", root, code=1)
    assert "stays  3: counter is '[bold]'" in told
    assert "1 rows let in, 1 stay; ledger version 3" in told
    with Ledger.open(root) as ledger:
        assert ledger.snapshot().strokes("P1")["counter"].to_pylist() == [0, 60, 120, 180, 240]


def test_pins_are_listed_and_let_go(root: Path) -> None:
    assert "version 1 is kept as report" in run("upkeep", "--ledger", root, "--pin", "report")
    assert "1  20" in run("upkeep", "--ledger", root, "--list")
    assert "kept as report" in run("upkeep", "--ledger", root, "--list")
    assert "report is let go" in run("upkeep", "--ledger", root, "--unpin", "report")
    assert "0 versions let go" in run("upkeep", "--ledger", root)


def test_check_backup_and_restore(root: Path, tmp_path: Path) -> None:
    assert "every file is whole and every sum closes" in run("check", "--ledger", root)
    run("backup", tmp_path / "copy", "--ledger", root)
    next((root / "parts").iterdir()).unlink()
    assert "is missing" in run("check", "--ledger", root, code=1)
    run("restore", tmp_path / "copy", "--ledger", tmp_path / "again")
    assert "every sum closes" in run("check", "--deep", "--ledger", tmp_path / "again")


@pytest.mark.skipif(os.name == "nt", reason="signals are others there")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_watch_stops_cleanly_when_told(root: Path, tmp_path: Path, number: signal.Signals) -> None:
    script = "from monitor.cli.main import main; main()"
    command = [sys.executable, "-c", script, "watch", str(tmp_path / "drop"), "--ledger", str(root)]
    with subprocess.Popen(command, cwd=ROOT, stderr=subprocess.PIPE, text=True) as watch:
        assert watch.stderr is not None
        first = watch.stderr.readline()
        time.sleep(0.5)
        watch.send_signal(number)
        rest = watch.stderr.read()
        assert watch.wait(20) == 0
    assert "watching" in first
    assert "stopped watching" in rest
    assert "Traceback" not in rest
