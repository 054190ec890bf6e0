"""Routes of parts through several dies."""

from __future__ import annotations

from monitor.plant.book import Book


def earlier_steps(book: Book, day: str) -> set[tuple[str, str]]:
    """Return the parts and dies of all steps but the last one of their routes on a plant day."""
    rows = book.rows_on("routes", day)
    last: dict[str, tuple[int, str]] = {}
    for row in rows:
        last[row["part_no"]] = max(last.get(row["part_no"], (0, "")), (row["step"], row["die_id"]))
    return {(row["part_no"], row["die_id"]) for row in rows} - {(part, die) for part, (_, die) in last.items()}
