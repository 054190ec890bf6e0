"""Runs the tests of what changed since main, or the quick ones where nothing did: `python -m tests.changed`.

The tests of a module lie where it lies: those of `monitor/load/release.py` in `tests/load/test_release.py`, or else in
the nearest folder above.  What does not fit into the time is counted and left to `make test`.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
from collections.abc import Generator, Iterable, Sequence
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
#: Run where nothing has changed: what is worked out without a ledger, and what holds for the whole tree.
QUICK = ("tests/reckoning", "tests/published", "tests/test_architecture.py", "tests/shared")
#: Where the tests of pages lie.
_PAGES = {"docs": "tests/docs", "README.md": "tests/docs", "DEVELOPERS.md": "tests/docs"}


class Timed:
    """Ends a run once its time is over: `over`, how many tests `failed` and how many were `left`."""

    def __init__(self, seconds: float) -> None:
        self._until = time.monotonic() + seconds
        self.left = self.failed = 0
        self.over = False

    def pytest_collection_finish(self, session: pytest.Session) -> None:
        self.left = len(session.items)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        self.failed += report.failed

    @pytest.hookimpl(wrapper=True, tryfirst=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Generator[None, object, object]:
        done = yield
        self.left -= 1
        if self.left and time.monotonic() > self._until:
            self.over = True
            item.session.shouldstop = "the time is over"
        return done


def changed(root: Path = ROOT) -> list[str]:
    """Paths that differ from where this branch left main, whether committed or not; [] without git or main."""
    for main_branch in ("main", "origin/main"):
        base = _git(root, "merge-base", main_branch, "HEAD")
        if base:
            differing = _git(root, "diff", "--name-only", "--diff-filter=d", base[0])
            return sorted({*differing, *_git(root, "ls-files", "--others", "--exclude-standard")})
    return []


def nearest_tests(paths: Iterable[str], root: Path = ROOT) -> list[str]:
    """Test files of changed paths, then folders of tests of those without, each once and none inside another."""
    found = dict.fromkeys(test for path in paths if (test := _nearest(Path(path), root)))
    files = [test for test in found if test.endswith(".py")]
    folders = [test for test in found if not test.endswith(".py")]
    return [*files, *(one for one in folders if not any(one.startswith(f"{other}/") for other in folders))]


def _nearest(path: Path, root: Path) -> str:
    """The test file of a path, or else the nearest folder of tests, "" where there is none."""
    first = path.parts[0]
    if first in _PAGES:
        return _PAGES[first]
    if path.suffix != ".py":
        return ""
    if first == "tests":
        return path.as_posix() if path.name.startswith("test_") else _holding(path.parent, root)
    mirrored = Path("tests", *path.parts[first == "monitor" :])
    while len(mirrored.parts) > 1:
        named = mirrored.with_name(f"test_{mirrored.stem}.py")
        if (root / named).is_file():
            return named.as_posix()
        mirrored = mirrored.parent
        if folder := _holding(mirrored, root):
            return folder
    return ""


def _holding(folder: Path, root: Path) -> str:
    """A folder of tests, "" for one that holds none, and for all tests together."""
    return folder.as_posix() if len(folder.parts) > 1 and any((root / folder).rglob("test_*.py")) else ""


def _git(root: Path, *words: str) -> list[str]:
    try:
        ran = subprocess.run(["git", *words], cwd=root, capture_output=True, text=True, check=True)
    except (OSError, subprocess.CalledProcessError):
        return []
    return ran.stdout.splitlines()


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the tests; return 0 where none failed in the time that there was, else pytest's exit code."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=40, help="start no further test after so long")
    seconds = parser.parse_args(arguments).seconds
    chosen = nearest_tests(changed())
    print("Tests of what changed since main:" if chosen else "Nothing that has tests changed since main, quick tests:")
    print("\n".join(f"  {path}" for path in chosen or QUICK), flush=True)
    timed = Timed(seconds)
    code = pytest.main(["-q", *(chosen or QUICK)], plugins=[timed])
    if timed.over:
        print(f"{timed.left:,} of these tests were not started within {seconds:.0f} s: make test runs all")
        return int(timed.failed > 0)
    return 0 if code == pytest.ExitCode.NO_TESTS_COLLECTED else int(code)


if __name__ == "__main__":
    sys.exit(main())
