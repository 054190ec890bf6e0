"""What is asked of a version of the ledger: range, filters, and the facts that lie in them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from functools import cached_property

import pandas as pd

from monitor.figures.scope import Bound, Scope, scope
from monitor.ledger import Snapshot
from monitor.plant.book import Book, plant_of
from monitor.plant.carries import newest_reading_us
from shared.figures import SHARPENING_PIECES


@dataclass(frozen=True)
class Question:
    """A version of the ledger, its plant book, and the range and filters asked for."""

    snapshot: Snapshot
    book: Book
    scope: Scope
    sharpening_pieces: float = SHARPENING_PIECES
    _held: dict[str, pd.DataFrame] = field(default_factory=dict, init=False, compare=False)

    @cached_property
    def last_day(self) -> dt.date:
        """The last plant day of the range; where it has no end, that of the newest counter reading."""
        return last_day(self.snapshot, self.book, self.scope)

    @cached_property
    def dated_book(self) -> Book:
        """The plant book as it stood on the last day of the range."""
        return self.book.as_of(self.last_day)

    @cached_property
    def dies(self) -> tuple[str, ...]:
        """The dies asked for, as the plant book stood then, in order."""
        known = sorted({row["die_id"] for row in self.dated_book.tables["dies"]})
        return tuple(die for die in known if self.scope.die in (None, die))

    def facts(self, kind: str) -> pd.DataFrame:
        """Return the facts of one kind in range and filters, read once for all figures asked."""
        if kind not in self._held:
            first, after = self.scope.dates(self.book.calendar)
            press, die = self.scope.press, self.scope.die
            facts = self.snapshot.facts(kind, from_date=first, to_date=after, press_id=press, die_id=die)
            self._held[kind] = self.scope.keep(facts)
        return self._held[kind].copy(deep=False)


def question(
    snapshot: Snapshot,
    from_: Bound = None,
    *,
    to: Bound = None,
    press: str | None = None,
    die: str | None = None,
    part: str | None = None,
    sharpening_pieces: float = SHARPENING_PIECES,
    book: Book | None = None,
) -> Question:
    """Return what is asked, from a range and filters, None = all; see `scope`.

    `book` is the plant book of that version where it has been read already.  Raises RequestError for a range that does
    not exist.
    """
    book = book or Book.read(snapshot, plant_of(snapshot.plant_text()))
    wanted = scope(book.calendar, from_, to=to, press=press, die=die, part=part)
    return Question(snapshot, book, wanted, sharpening_pieces)


def last_day(snapshot: Snapshot, book: Book, scope: Scope) -> dt.date:
    """Return the last plant day of a range; where it has no end, that of the newest counter reading.

    Before the first reading it is the last day there is: nothing has happened that a row could have come after.
    """
    if scope.to_us is not None:
        return book.day_of(scope.to_us - 1)
    newest_us = newest_reading_us(snapshot)
    return book.day_of(newest_us) if newest_us else dt.date.max
