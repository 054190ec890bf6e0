"""Rows that cannot all be true, as loads and checks tell of them: how many of each kind, and how to see them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from monitor.figures.contradictions import KINDS, Contradiction, found_in
from monitor.figures.question import Question
from monitor.figures.scope import Scope
from monitor.ledger import Ledger, Snapshot
from monitor.plant.book import Book, plant_of


def all_of(ledger: Ledger) -> list[Contradiction]:
    """Return every contradiction of the newest version."""
    return _since(ledger.snapshot(), None)


def new_ones(ledger: Ledger, before: int, since_us: int | None) -> list[Contradiction]:
    """Return the contradictions of the newest version that an earlier one (0 = none) did not have.

    Looked at is what concerns the plant day of `since_us` [us] and those after it; None = nothing has come in.
    """
    if since_us is None or ledger.version == before:
        return []
    known = {one.key for one in _since(ledger.snapshot(before), since_us)} if before else set()
    return [one for one in _since(ledger.snapshot(), since_us) if one.key not in known]


def summary(found: Iterable[Contradiction], what: str = "sets of rows cannot all be true") -> list[str]:
    """Return a line that counts contradictions by kind and says how to see them; none where there are none."""
    counts = Counter(one.code for one in found)
    if not counts:
        return []
    what = what.replace("sets of rows", "set of rows", 1) if counts.total() == 1 else what
    kinds = ", ".join(f"{counts[code]:,} {KINDS[code]}" for code in KINDS if counts[code])
    return [f"{counts.total():,} {what}: {kinds}; see which: strokeledger figures contradictions --ledger …"]


def _since(snapshot: Snapshot, since_us: int | None) -> list[Contradiction]:
    book = Book.read(snapshot, plant_of(snapshot.plant_text()))
    if since_us is None:
        return found_in(Question(snapshot, book, Scope()))
    day = book.calendar.plant_day(since_us)
    return found_in(Question(snapshot, book, Scope(from_us=book.calendar.day_start_us(day), from_date=day)))
