"""An empty ledger for each test."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.ledger import Ledger


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with Ledger.open(tmp_path / "ledger", create=True) as opened:
        yield opened
