"""What holds for the headings of every file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection

from shared.errors import RefusedFile

MOST_COLUMNS = 10_000


def check_headings(names: Collection[str], where: str) -> None:
    """Raise RefusedFile where a heading stands twice or there are too many; empty headings are let pass."""
    if len(names) > MOST_COLUMNS:
        raise RefusedFile(where, f"{len(names):,} columns", f"{MOST_COLUMNS:,} at most", "Check what the file is")
    twice = sorted(name for name, count in Counter(names).items() if name and count > 1)
    if twice:
        seen = f"{', '.join(twice)[:200]} more than once"
        raise RefusedFile(where, seen, "each heading once", "Rename or drop one")
