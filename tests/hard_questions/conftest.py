"""A plant of a few rows for each question."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.invented.tiny import Tiny


@pytest.fixture
def plants(tmp_path: Path) -> Iterator[Any]:
    made: list[Tiny] = []

    def plant(**options: Any) -> Tiny:
        made.append(Tiny(tmp_path, **options))
        return made[-1]

    yield plant
    for one in made:
        one.ledger.close()
