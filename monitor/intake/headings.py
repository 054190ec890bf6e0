"""What holds for the headings of every file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection

from shared.errors import RefusedFile
from shared.phrases import phrase
from shared.reasons.files import AT_MOST, CHECK_FILE, COLUMN_COUNT, HEADING_ONCE, HEADINGS_TWICE, RENAME_OR_DROP

MOST_COLUMNS = 10_000


def check_headings(names: Collection[str], where: str) -> None:
    """Raise RefusedFile where a heading stands twice or there are too many; empty headings are let pass."""
    if len(names) > MOST_COLUMNS:
        seen, most = phrase(COLUMN_COUNT, n=f"{len(names):,}"), phrase(AT_MOST, n=f"{MOST_COLUMNS:,}")
        raise RefusedFile(where, seen, most, phrase(CHECK_FILE))
    twice = sorted(name for name, count in Counter(names).items() if name and count > 1)
    if twice:
        seen = phrase(HEADINGS_TWICE, headings=", ".join(twice)[:200])
        raise RefusedFile(where, seen, phrase(HEADING_ONCE), phrase(RENAME_OR_DROP))
