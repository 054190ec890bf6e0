"""A run of tests says in its last line which ones it left out for want of a program."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.programs import PROGRAMS, untested

ROOT = Path(__file__).parents[1]
CONFTEST = "from tests.programs import pytest_sessionfinish as pytest_sessionfinish\n"
TESTS = """
import pytest
from tests.programs import need, skip

@pytest.fixture(scope="module")
def browser():
    skip("chromium")

def test_page(browser): ...
def test_other_page(browser): ...
def test_paper(): need("qpdf", "pdftotext")
def test_text(): need("pdftotext", "pdfinfo")
def test_else(): pytest.skip("it rains: not today")
def test_runs(): ...
"""


def last_lines(folder: Path, tests: str, *options: str) -> list[str]:
    """The last two lines that pytest writes where no program is on the path."""
    (folder / "conftest.py").write_text(CONFTEST, "utf-8")
    (folder / "test_it.py").write_text(tests, "utf-8")
    command = [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", *options, str(folder)]
    env = {**os.environ, "PATH": str(folder), "PYTHONPATH": str(ROOT), "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
    ran = subprocess.run(command, env=env, cwd=folder, capture_output=True, text=True, check=True)
    return ran.stdout.splitlines()[-2:]


@pytest.mark.parametrize("options", [(), ("-p", "xdist", "-n", "2")])
def test_last_line_says_what_was_left_out(tmp_path: Path, options: tuple[str, ...]) -> None:
    summary, last = last_lines(tmp_path, TESTS, *options)
    assert "1 passed, 5 skipped" in summary
    assert last == (
        "NOT TESTED: 2 need a browser, 2 need the PDF programs, 1 need qpdf; install chromium poppler-utils qpdf"
    )


def test_last_line_is_the_summary_where_nothing_was_left_out(tmp_path: Path) -> None:
    assert "1 passed" in last_lines(tmp_path, "def test_runs(): ...\n")[-1]


def test_every_program_is_told_of() -> None:
    for program, (what, package) in PROGRAMS.items():
        assert untested([f"Skipped: not on this machine: {program}"]) == f"NOT TESTED: 1 need {what}; install {package}"
    assert untested(["Skipped: it rains"]) == untested([]) == ""
