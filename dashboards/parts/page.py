"""What a page is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from dash import Dash

from dashboards.ledger.service import LedgerService
from dashboards.ledger.version import LedgerVersion
from dashboards.request.url import View


@dataclass(frozen=True)
class Page:
    """A page: where it is, its name, what it draws for a view, and the callbacks it needs.

    `layout(reading, view)` gives a Dash component; `register(app, service)` adds the callbacks.  A page that is reached
    from another only, and stands under its name, has that one's path in `within`.
    """

    path: str
    name: str
    layout: Callable[[LedgerVersion, View], Any]
    register: Callable[[Dash, LedgerService], None]
    within: str = ""
