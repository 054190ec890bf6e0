"""How tests are spread over workers: a file stays together, the browser's all do, and what takes long begins first.

So one worker waits for the browser while the others reckon, the browser's sample is loaded once, and what is handed
out at the end is short.
"""

from __future__ import annotations

from typing import Any

import pytest
from xdist.scheduler import LoadScopeScheduling

#: Where the tests that take long are, in the order in which they begin; all others follow.
FIRST = (
    "tests/browser/",
    "tests/random_plants/",
    "tests/chain/",
    "tests/sample_runs/test_fortnight.py",
    "tests/faults/",
    "tests/report/",
    "tests/dashboards/pages/",
    "tests/hard_questions/",
)
_TOGETHER = FIRST[0]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the tests that take long first; the order within them, and among the others, stays."""
    items.sort(key=lambda item: place(item.nodeid))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> LoadScopeScheduling | None:
    """Return what hands the tests to workers where `--dist loadfile` is asked for."""
    return Scheduling(config, log) if config.getvalue("dist") == "loadfile" else None


class Scheduling(LoadScopeScheduling):
    """Hands out a file at a time, in the order in which they were collected."""

    def __init__(self, config: pytest.Config, log: Any = None) -> None:
        super().__init__(config, log)
        config.option.loadscopereorder = False

    def _split_scope(self, nodeid: str) -> str:
        return unit(nodeid)


def place(nodeid: str) -> int:
    """Return the place of a test among those that begin early, from 0 on."""
    return next((place for place, folder in enumerate(FIRST) if nodeid.startswith(folder)), len(FIRST))


def unit(nodeid: str) -> str:
    """Return what a test is handed out with: its file, or all of the browser's."""
    return _TOGETHER if nodeid.startswith(_TOGETHER) else nodeid.partition("::")[0]
