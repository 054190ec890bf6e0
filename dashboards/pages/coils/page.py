"""The coils page: the account of each coil over a range of days, with what needs somebody above it."""

from __future__ import annotations

from functools import partial
from typing import Any

from dash import Dash, Input, Output, dcc, html

from dashboards import ids
from dashboards.ledger.service import LedgerService
from dashboards.ledger.version import LedgerVersion
from dashboards.pages.coils import COILS_BODY, COILS_DATES, COILS_FIND, COILS_PRESS, COILS_RANGES, COILS_SHOW, COILS_URL
from dashboards.pages.coils.model import ALL, DOWNLOADS, SHOWN, chosen, load_coils
from dashboards.pages.coils.view import coils_html
from dashboards.parts.components import draw_cached, failure
from dashboards.parts.download import offer
from dashboards.parts.linked_fields import picked, written
from dashboards.parts.page import Page
from dashboards.parts.picker import RangePicker
from dashboards.request.locale import key, say
from dashboards.request.url import View

RANGE = RangePicker("/coils", COILS_URL, COILS_DATES, COILS_RANGES, chosen)

_EVERYTHING = "all"
"""Stands in the pickers for no choice, which the component takes for an empty field."""


def layout(reading: LedgerVersion, view: View) -> Any:
    """The pickers filled from the address; the coils follow once the theme is known."""
    view = chosen(reading, view)
    return html.Div(
        [
            dcc.Location(id=COILS_URL, refresh="callback-nav"),
            html.Div(_pickers(reading, view), className="pickers"),
            html.Div(id=COILS_BODY, className="die"),
        ]
    )


def draw(service: LedgerService, search: str | None, theme: str | None) -> list[Any]:
    """The coils of the address."""
    reading, view = service.read(), View.parse(search)
    asked = ("coils", view.search, theme or "")
    return draw_cached(reading, asked, lambda: coils_html(load_coils(reading, view), dark=theme == "dark"))


def register(app: Dash, service: LedgerService) -> None:
    """Add the callbacks of the coils page."""
    press, show = picked(COILS_PRESS, "press", _EVERYTHING), picked(COILS_SHOW, "scope", _EVERYTHING)
    offer(app.server, service, DOWNLOADS)
    RANGE.register(app, service, press, show, written(COILS_FIND, "value"))
    app.callback(
        Output(COILS_BODY, "children"),
        Input(COILS_URL, "search"),
        Input(ids.THEME, "data"),
        on_error=lambda error: [failure(error)],
    )(partial(draw, service))


def _pickers(reading: LedgerVersion, view: View) -> list[Any]:
    presses = sorted({*reading.names("presses"), view.press} - {""})
    options = [{"label": say("all presses"), "value": _EVERYTHING}, *({"label": p, "value": p} for p in presses)]
    shown = [{"label": say(words), "value": name or _EVERYTHING} for name, words in SHOWN.items()]
    press = dcc.Dropdown(options, view.press or _EVERYTHING, id=COILS_PRESS, clearable=False, searchable=False)
    scope = view.scope if view.scope in SHOWN else ALL
    show = dcc.Dropdown(shown, scope or _EVERYTHING, id=COILS_SHOW, clearable=False, searchable=False)
    find = dcc.Input(view.value, id=COILS_FIND, type="text", debounce=True, maxLength=100)
    return [
        html.Label([say("Press"), press]),
        html.Label([say("Show"), show]),
        html.Label([say("Coil, lot, heat or supplier"), find]),
        RANGE.shows(reading, view),
    ]


PAGE = Page("/coils", key("Coils"), layout, register)
