"""The service over the plant of five presses, for whoever enters nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboards.ledger.service import LedgerService


@pytest.fixture(scope="session")
def five_service(five_presses: Path) -> LedgerService:
    """The service over the plant of five presses, shared by all tests of a process."""
    return LedgerService(five_presses)


@pytest.fixture
def service(five_service: LedgerService) -> LedgerService:
    return five_service


@pytest.fixture
def empty_service(empty: Path) -> LedgerService:
    """The service over a ledger that holds nothing yet."""
    return LedgerService(empty)
