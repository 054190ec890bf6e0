"""What holds for the headings of every file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection

from shared.errors import RefusedFile
from shared.phrases import phrase

MOST_COLUMNS = 10_000


def check_headings(names: Collection[str], where: str) -> None:
    """Raise RefusedFile where a heading stands twice or there are too many; empty headings are let pass."""
    if len(names) > MOST_COLUMNS:
        seen, most = phrase("{n} columns", n=f"{len(names):,}"), phrase("{n} at most", n=f"{MOST_COLUMNS:,}")
        raise RefusedFile(where, seen, most, phrase("Check what the file is"))
    twice = sorted(name for name, count in Counter(names).items() if name and count > 1)
    if twice:
        seen = phrase("{headings} more than once", headings=", ".join(twice)[:200])
        raise RefusedFile(where, seen, phrase("each heading once"), phrase("Rename or drop one"))
