"""The only door to stored rows and facts: versions in an SQL catalogue, bulk rows in immutable Parquet files."""

from monitor.ledger.catalog.database import CatalogueFault
from monitor.ledger.catalog.values import arrow_rows
from monitor.ledger.entries import Entered, RowStay
from monitor.ledger.fold_writer import Fold
from monitor.ledger.inspection import Finding
from monitor.ledger.kept_versions import Keeper, Pin, Stored
from monitor.ledger.merge.accounts import Move
from monitor.ledger.merge.outcome import Merge
from monitor.ledger.placed import Placed
from monitor.ledger.seen_files import FileStamp
from monitor.ledger.set_aside_writer import SetAside
from monitor.ledger.snapshot import Snapshot
from monitor.ledger.store import Ledger
from monitor.ledger.writer import Writer

__all__ = [
    "CatalogueFault",
    "Entered",
    "FileStamp",
    "Finding",
    "Fold",
    "Keeper",
    "Ledger",
    "Merge",
    "Move",
    "Pin",
    "Placed",
    "RowStay",
    "SetAside",
    "Snapshot",
    "Stored",
    "Writer",
    "arrow_rows",
]
