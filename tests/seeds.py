"""How many random plants a run looks at: the first of each range in `make test`, all of them in `make faults`."""

from __future__ import annotations

import os
from collections.abc import Sequence

#: Set by `make faults`.
ALL_SEEDS = "STROKELEDGER_ALL_SEEDS"


def some(seeds: Sequence[int], few: int) -> Sequence[int]:
    """Return the first few seeds, or all where all are asked for."""
    return seeds if os.environ.get(ALL_SEEDS) else seeds[:few]
