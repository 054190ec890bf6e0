"""What is asked of a version of the ledger: range, filters, and the facts that lie in them."""

from __future__ import annotations

from dataclasses import dataclass, field

import pandas as pd

from monitor.book import Book
from monitor.figures.scope import SHARPENING_PIECES, Scope
from monitor.ledger import Snapshot


@dataclass(frozen=True)
class Question:
    """A version of the ledger, its plant book, and the range and filters asked for."""

    snapshot: Snapshot
    book: Book
    scope: Scope
    sharpening_pieces: float = SHARPENING_PIECES
    _held: dict[str, pd.DataFrame] = field(default_factory=dict, init=False, compare=False)

    def facts(self, kind: str) -> pd.DataFrame:
        """Return the facts of one kind in range and filters, read once for all figures asked."""
        if kind not in self._held:
            first, after = self.scope.dates(self.book.calendar)
            press, die = self.scope.press, self.scope.die
            facts = self.snapshot.facts(kind, from_date=first, to_date=after, press_id=press, die_id=die)
            self._held[kind] = self.scope.keep(facts)
        return self._held[kind].copy(deep=False)
