"""How much is left of each die's edges before they are due: strokes alone, nothing is judged."""

from __future__ import annotations

from typing import NamedTuple

from monitor.figures.judgement.series import renewals
from monitor.ledger import Snapshot
from monitor.plant.book import Book
from monitor.plant.records import records


class Edge(NamedTuple):
    """The most worn edge of a die: strokes left until it is due, negative when it is over, of so many in all."""

    left: int
    every: int


def edges_left(snapshot: Snapshot, book: Book, at_us: int) -> dict[str, Edge]:
    """Return, by die, the fewest strokes left at any station; `at_us` [us] is the newest reading.

    A die is left out where the plant book asks for no interval, or no edge was ever renewed.
    """
    book = book.as_of(book.day_of(at_us))
    services = records(snapshot.rows("die_service", to_us=at_us + 1))
    found = {}
    for die_id, every in _intervals(book).items():
        last = {moments[-1] for moments in renewals(die_id, services, book).values()}
        if last:
            found[die_id] = Edge(every - max(snapshot.fed_since(die_id, moment) for moment in last), every)
    return found


def _intervals(book: Book) -> dict[str, int]:
    """Return the strokes between sharpenings that the plant book asks for, by die."""
    asked = {row["die_id"]: row["sharpen_every_strokes"] for row in book.tables["dies"]}
    return {die_id: int(every) for die_id, every in asked.items() if every is not None}
