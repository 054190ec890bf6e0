"""The Dash app put together over a ledger service: pages, routing, theme, compression and headers."""

from __future__ import annotations

import base64
import hashlib
from functools import partial
from pathlib import Path
from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, State
from flask import Response, request

from dashboards import ids
from dashboards.ledger.service import LedgerService
from dashboards.pages import PAGES
from dashboards.parts.components import failure
from dashboards.parts.download import hand_out
from dashboards.parts.page import Page
from dashboards.reason_sheet.callbacks import register as register_sheet
from dashboards.request.locale import follow_requests
from dashboards.shell import EARLY_THEME, document, in_language, nav, route, shell

_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "SAMEORIGIN",
    "Referrer-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}


class _App(Dash):
    """Dash with a document in the language of whoever asks for it."""

    def interpolate_index(self, *given: Any, **parts: Any) -> str:
        """The document around every page."""
        return in_language(super().interpolate_index(*given, **parts))  # type: ignore[no-untyped-call]


def assemble(service: LedgerService, pages: tuple[Page, ...] = PAGES) -> Dash:
    """A Dash app of its own over a service; nothing is kept outside it, so several may live in one process."""
    app = _App(
        "strokeledger",
        title="strokeledger",
        update_title="",
        assets_folder=str(Path(__file__).with_name("assets")),
        compress=True,
        health_endpoint="health",
        suppress_callback_exceptions=True,
    )
    app.index_string = document()
    app.layout = partial(shell, service, pages)
    _register(app, service, pages)
    follow_requests(app.server)
    hand_out(app.server, service)
    _secure(app)
    return app


def _register(app: Dash, service: LedgerService, pages: tuple[Page, ...]) -> None:
    app.callback(
        Output(ids.PAGE, "children"),
        Output(ids.NAV, "children"),
        Input(ids.URL, "pathname"),
        State(ids.URL, "search"),
        on_error=lambda error: (failure(error), nav(pages, "")),
    )(partial(route, service, pages))
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("strokeledger", "theme"),
        Output(ids.THEME, "data"),
        Output(ids.THEME_SWITCH, "children"),
        Input(ids.THEME_SWITCH, "n_clicks"),
    )
    register_sheet(app, service)
    for page in pages:
        page.register(app, service)


def _secure(app: Dash) -> None:
    """Headers that let the browser load nothing from elsewhere and run no script that is not ours."""
    own = base64.b64encode(hashlib.sha256(EARLY_THEME.encode()).digest()).decode()
    scripts = " ".join(["'self'", f"'sha256-{own}'", *app.csp_hashes()])
    policy = (
        f"default-src 'self'; script-src {scripts}; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; "
        "connect-src 'self'; font-src 'self' data:; object-src 'none'; base-uri 'self'; form-action 'self'; "
        "frame-ancestors 'self'"
    )

    def add_headers(response: Response) -> Response:
        response.headers.update(_HEADERS | {"Content-Security-Policy": policy})
        if request.path.startswith("/assets/") and request.args.get("m"):
            # The address of an asset changes with the file: nobody need ask for it twice.
            response.headers["Cache-Control"] = "public, max-age=31536000, immutable"
        return response

    app.server.after_request(add_headers)
