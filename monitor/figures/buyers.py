"""Whom parts are made for, as the plant book says of each plant day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from monitor.plant.book import Book


def buyers(book: Book, days: Iterable[dt.date | str], parts: Iterable[str]) -> list[str]:
    """Return whom each part is made for on a plant day, "" where the plant book does not say."""
    return [customer or "" for customer in book.column("parts", "customer", days, parts)]
