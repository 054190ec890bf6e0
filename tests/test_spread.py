"""Tests of one file run on one worker, the browser's on one, and those that take long begin first."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.spread import FIRST, place, unit

ROOT = Path(__file__).parents[1]
CONFTEST = """
from tests.spread import pytest_collection_modifyitems as pytest_collection_modifyitems
from tests.spread import pytest_xdist_make_scheduler as pytest_xdist_make_scheduler
"""
TEST = "import pytest, time\n@pytest.mark.parametrize('n', range(3))\ndef test_it(n): time.sleep(0.05)\n"
FILES = ("aaa/test_a.py", "browser/test_b.py", "browser/pages/test_c.py", "chain/test_d.py")


def test_what_begins_first_is_there() -> None:
    assert all((ROOT / folder).exists() for folder in FIRST)


@pytest.mark.parametrize("options", [(), ("-p", "xdist", "-n", "2", "--dist", "loadfile")])
def test_order_and_workers(tmp_path: Path, options: tuple[str, ...]) -> None:
    (tmp_path / "tests").mkdir()
    for name in FILES:
        (tmp_path / "tests" / name).parent.mkdir(exist_ok=True, parents=True)
        (tmp_path / "tests" / name).write_text(TEST, "utf-8")
    (tmp_path / "conftest.py").write_text(CONFTEST, "utf-8")
    (tmp_path / "pytest.ini").write_text("[pytest]\n", "utf-8")
    command = [sys.executable, "-m", "pytest", "-v", "-p", "no:cacheprovider", *options]
    env = {**os.environ, "PYTHONPATH": str(ROOT), "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
    ran = subprocess.run(command, env=env, cwd=tmp_path, capture_output=True, text=True, check=True)
    assert "12 passed" in ran.stdout
    if options:
        workers = set(re.findall(r"\[(gw\d)\].*PASSED tests/(\w+/.*)::", ran.stdout))
        assert len({name for _, name in workers}) == len(workers) == len(FILES)
        assert len({worker for worker, name in workers if name.startswith("browser")}) == 1
        assert len({worker for worker, _ in workers}) == 2
    else:
        order = re.findall(r"^tests/(\w+)\S*::test_it\[0\] PASSED", ran.stdout, re.MULTILINE)
        assert order == ["browser", "browser", "chain", "aaa"]


def test_place_and_unit() -> None:
    assert place("tests/browser/test_axe.py::test_one[x]") == 0
    assert place("tests/shared/test_units.py::test_one") == len(FIRST)
    assert unit("tests/browser/pages/test_die.py::test_one") == unit("tests/browser/test_axe.py::test_other")
    assert unit("tests/chain/test_a.py::test_one[a::b]") == "tests/chain/test_a.py"
