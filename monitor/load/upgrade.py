"""Upgrades the facts of a ledger that an older release reckoned to the rules of this one."""

from __future__ import annotations

from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.load.report import LoadReport, Steps


def upgrade_facts(ledger: Ledger, steps: Steps | None = None) -> LoadReport:
    """Fold all facts of a ledger again and read its rows set aside again, in one transaction.

    Does nothing where this release has reckoned it.  Waits for a load under way; whoever reads meanwhile is refused.
    Raises LedgerError where the ledger cannot be written.
    """
    return load([], ledger, steps=steps)
