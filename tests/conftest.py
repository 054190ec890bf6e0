"""An empty ledger for each test."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.ledger import Ledger


@pytest.fixture(scope="session")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger without a load, to be copied: quicker than creating its tables for each test."""
    folder = tmp_path_factory.mktemp("ledger") / "empty"
    Ledger.open(folder, create=True).close()
    return folder


@pytest.fixture
def ledger(empty: Path, tmp_path: Path) -> Iterator[Ledger]:
    with Ledger.open(shutil.copytree(empty, tmp_path / "ledger")) as opened:
        yield opened
