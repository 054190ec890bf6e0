"""An empty ledger for each test."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.ledger import Ledger
from monitor.load import files as loading
from tests.invented.five_presses import FivePresses
from tests.programs import pytest_sessionfinish as pytest_sessionfinish
from tests.spread import pytest_collection_modifyitems as pytest_collection_modifyitems
from tests.spread import pytest_xdist_make_scheduler as pytest_xdist_make_scheduler

#: 2028-06-01: later than anything the tests load, whatever the clock of this computer says.
LATE_US = 1_843_430_400_000_000


@pytest.fixture(autouse=True, scope="session")
def late() -> Iterator[None]:
    """Let every load of the tests that says no moment be at a late one."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(loading, "clock_us", lambda: LATE_US)
        yield


@pytest.fixture(scope="session")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger without a load, to be copied: quicker than creating its tables for each test."""
    folder = tmp_path_factory.mktemp("ledger") / "empty"
    Ledger.open(folder, create=True).close()
    return folder


@pytest.fixture(scope="session")
def five_presses(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of the ledger of five presses; whoever enters something takes a copy."""
    return FivePresses(tmp_path_factory.mktemp("five")).load()


@pytest.fixture
def ledger(empty: Path, tmp_path: Path) -> Iterator[Ledger]:
    with Ledger.open(shutil.copytree(empty, tmp_path / "ledger")) as opened:
        yield opened
