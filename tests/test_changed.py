"""The quick run finds the tests of what changed, and ends in time without hiding what failed."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.changed import QUICK, ROOT, changed, nearest_tests
from tests.programs import need

TREE = (
    "tests/load/test_release.py",
    "tests/load/test_profiles.py",
    "tests/load/deep/test_deep.py",
    "tests/dashboards/pages/board/test_board.py",
    "tests/shared/test_units.py",
    "tests/test_watch.py",
    "tests/invented/tiny.py",
    "tests/load/given.py",
)


@pytest.fixture
def tree(tmp_path: Path) -> Path:
    for name in TREE:
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).touch()
    return tmp_path


@pytest.mark.parametrize(
    ("path", "tests"),
    [
        ("monitor/load/release.py", "tests/load/test_release.py"),
        ("monitor/load/session.py", "tests/load"),
        ("monitor/load/profiles/moments.py", "tests/load/test_profiles.py"),
        ("monitor/load/__init__.py", "tests/load"),
        ("monitor/watch.py", "tests/test_watch.py"),
        ("monitor/__init__.py", ""),
        ("dashboards/pages/board/view.py", "tests/dashboards/pages/board"),
        ("dashboards/app.py", "tests/dashboards"),
        ("shared/units.py", "tests/shared/test_units.py"),
        ("tests/load/test_release.py", "tests/load/test_release.py"),
        ("tests/load/given.py", "tests/load"),
        ("tests/invented/tiny.py", ""),
        ("tests/conftest.py", ""),
        ("docs/tables.md", "tests/docs"),
        ("Makefile", ""),
    ],
)
def test_tests_lie_where_the_module_lies(tree: Path, path: str, tests: str) -> None:
    assert nearest_tests([path], tree) == ([tests] if tests else [])


def test_files_come_first_and_nothing_twice(tree: Path) -> None:
    paths = ["monitor/load/session.py", "tests/load/given.py", "monitor/load/deep/more.py", "monitor/watch.py"]
    assert nearest_tests(paths, tree) == ["tests/test_watch.py", "tests/load"]


def test_what_is_named_here_is_there() -> None:
    assert all((ROOT / path).exists() for path in (*QUICK, "tests/docs"))


def test_changed_are_files_committed_on_the_branch_edited_and_new(tmp_path: Path) -> None:
    need("git")

    def git(*words: str) -> None:
        named = ("-c", "user.name=Q", "-c", "user.email=q@example.com", "-c", "commit.gpgsign=false")
        subprocess.run(["git", *named, *words], cwd=tmp_path, check=True, capture_output=True)

    assert changed(tmp_path) == []  # No repository.
    git("init", "-b", "main")
    for name in ("kept", "edited", "removed"):
        (tmp_path / name).write_text("1\n", "utf-8")
    git("add", ".")
    git("commit", "-m", "First")
    assert changed(tmp_path) == []
    git("checkout", "-b", "work")
    (tmp_path / "committed").touch()
    git("add", ".")
    git("commit", "-m", "Second")
    (tmp_path / "edited").write_text("2\n", "utf-8")
    (tmp_path / "new").touch()
    (tmp_path / "removed").unlink()
    assert changed(tmp_path) == ["committed", "edited", "new"]


THREE = """
def test_first(): {first}
def test_second(): ...
def test_third(): ...
"""


@pytest.mark.parametrize(
    ("seconds", "first", "code", "told"),
    [
        (60, "...", 0, "3 passed"),
        (60, "assert False", 1, "1 failed, 2 passed"),
        (0, "...", 0, "2 of these tests were not started within 0 s"),
        (0, "assert False", 1, "2 of these tests were not started within 0 s"),
    ],
)
def test_run_ends_in_time(tmp_path: Path, seconds: int, first: str, code: int, told: str) -> None:
    (tmp_path / "test_three.py").write_text(THREE.format(first=first), "utf-8")
    script = f"""
import sys, tests.changed as run
run.changed, run.nearest_tests = lambda: [], lambda paths: [{str(tmp_path)!r}]
sys.exit(run.main(["--seconds", "{seconds}"]))
"""
    ran = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=False)
    assert (ran.returncode, told in ran.stdout) == (code, True), ran.stdout
