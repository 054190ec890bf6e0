"""Published figures: each with its source, how it was come by, and how close an answer has to be."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest


@dataclass(frozen=True)
class Published:
    """One published figure and the allowed distance from it."""

    source: str
    provenance: str
    inputs: dict[str, Any]
    expected: dict[str, Any]
    tolerance: float | dict[str, float]

    def agrees(self, name: str, got: Any) -> None:
        """Fail where `got` is further from the published value `name` than its tolerance."""
        within = self.tolerance if isinstance(self.tolerance, int | float) else self.tolerance.get(name, 0)
        np.testing.assert_allclose(got, self.expected[name], rtol=0, atol=within, err_msg=f"{name}: {self.source}")


@pytest.fixture(scope="session")
def published() -> Callable[[str], Published]:
    """Look up a published figure by its id."""
    texts = [path.read_text(encoding="utf-8") for path in sorted(Path(__file__).parent.glob("*.json"))]
    figures = {entry.pop("id"): Published(**entry) for text in texts for entry in json.loads(text)}
    return figures.__getitem__
