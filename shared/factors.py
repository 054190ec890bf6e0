"""What scrap may come from: the factors of the figure `suspects`, and how it names those that cannot be told apart."""

from __future__ import annotations

import re

FACTORS = (
    "lot", "heat", "supplier", "cert", "coil_position", "wear", "press", "shift", "setup", "speed", "drift",
)  # fmt: skip

#: Factors whose levels are names from files.
BY_NAME = frozenset({"lot", "heat", "supplier", "press", "shift"})

_NEXT = re.compile(f"; (?=(?:{'|'.join((*FACTORS, 'coil', 'since_set'))}): )")


def tied(tied_with: str) -> list[tuple[str, str]]:
    """Factor and level of each line that a text of `tied_with` names, in order; a level may hold a `;` itself."""
    parts = (name.partition(": ") for name in _NEXT.split(tied_with) if ": " in name)
    return [(factor, level) for factor, _, level in parts]
