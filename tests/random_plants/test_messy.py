"""Random plants whose notes are as people and machines leave them, against the truth about them.

More of them are checked by `make faults`; one again by `python -m tests.messy --count 1 --seed N`.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.messy.checks.all import check

#: Small plants that have, between them, everything that notes do wrong, the smallest first.
SEEDS = (27, 69, 66, 36, 2, 57, 145, 20, 17, 50)


@pytest.mark.parametrize("seed", SEEDS)
def test_figures_of_messy_notes(tmp_path: Path, seed: int) -> None:
    case, faults = check(seed, tmp_path)
    assert faults == [], f"seed {seed}: {', '.join(case.features)}"
