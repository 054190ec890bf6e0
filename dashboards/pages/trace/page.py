"""The trace page: from a label back to the coils and forward to the customer, and holds on what is found."""

from __future__ import annotations

import base64
import re
from functools import partial
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, no_update

from dashboards import ids
from dashboards.holds import (
    TRACE_FROM,
    TRACE_HELD,
    TRACE_LIFT,
    TRACE_PLACE,
    TRACE_STRETCH,
    TRACE_TAGS,
    TRACE_TO,
    TRACE_WHO,
    TRACE_WHY,
)
from dashboards.holds.words import named
from dashboards.ledger.service import LedgerService
from dashboards.ledger.version import LedgerVersion
from dashboards.pages.trace import (
    TRACE_BODY,
    TRACE_DATES,
    TRACE_DONE,
    TRACE_FILE,
    TRACE_FIND,
    TRACE_RANGES,
    TRACE_SCOPE,
    TRACE_URL,
    TRACE_VALUE,
)
from dashboards.pages.trace.model import DOWNLOADS, SCOPES, load_trace
from dashboards.pages.trace.view import trace_html
from dashboards.parts.components import failure
from dashboards.parts.download import offer
from dashboards.parts.linked_fields import picked, written
from dashboards.parts.page import Page
from dashboards.parts.picker import RangePicker
from dashboards.request.locale import key, say, say_error
from dashboards.request.url import View
from shared.errors import StrokeledgerError

ANYTHING = key("anything")

RANGE = RangePicker("/trace", TRACE_URL, TRACE_DATES, TRACE_RANGES, lambda _, view: view, whole=True)


def layout(reading: LedgerVersion, view: View) -> Any:
    """The search filled from the address; what it finds follows once the theme is known."""
    scope = dcc.Dropdown(
        [{"label": say(name), "value": name} for name in (ANYTHING, *SCOPES)],
        view.scope or ANYTHING,
        id=TRACE_SCOPE,
        clearable=False,
        searchable=False,
    )
    value = dcc.Input(view.value, id=TRACE_VALUE, type="text", debounce=True, maxLength=200, autoFocus=True)
    search = [
        html.Label([say("Look for"), scope]),
        html.Label([say("What stands on the label"), value]),
        html.Button(say("Trace"), id=TRACE_FIND, className="act"),
        RANGE.shows(reading, view),
    ]
    return html.Div(
        [
            dcc.Location(id=TRACE_URL, refresh="callback-nav"),
            dcc.Store(id=TRACE_DONE),
            dcc.Download(id=TRACE_FILE),
            html.Div(search, className="pickers search"),
            html.Div(id=TRACE_BODY, className="die"),
        ]
    )


def draw(service: LedgerService, search: str | None, theme: str | None, done: str | None) -> list[Any]:
    """What the address asks for; `done` says what was entered just now."""
    return trace_html(load_trace(service.read(), View.parse(search)), dark=theme == "dark", done=done or "")


def hold(
    service: LedgerService,
    placed: int | None,
    lifted: list[int | None],
    stretched: int | None,
    search: str | None,
    why: str | None,
    who: str | None,
    stretch: tuple[str | None, str | None, str | None] = (None, None, None),
) -> Any:
    """Place or lift a hold; a button that only appeared has not been pressed."""
    if not (placed or any(lifted) or stretched):
        return no_update
    try:
        held, begin, end = ((text or "").strip() for text in stretch)
        return _enter(service, View.parse(search), (why or "").strip(), (who or "").strip(), (held, begin, end))
    except StrokeledgerError as error:
        return say_error(error)


def _enter(service: LedgerService, view: View, why: str, who: str, stretch: tuple[str, str, str]) -> str:
    if not why or not who:
        return say("Nothing entered: say why, and who you are.")
    if ctx.triggered_id == TRACE_STRETCH:
        return _stretched(service, why, who, stretch)
    if ctx.triggered_id == TRACE_PLACE:
        scope = load_trace(service.read(), view).view.scope
        number = service.place_hold(scope, view.value, why, who)
        return say("Hold {hold} placed on {what}.", hold=number, what=f"{say(scope)} {view.value}")
    name = str(ctx.triggered_id["hold"])
    service.lift_hold(name, why, who)
    return say("Hold {hold} lifted.", hold=name)


def _stretched(service: LedgerService, why: str, who: str, stretch: tuple[str, str, str]) -> str:
    held, begin, end = stretch
    reading = service.read()
    scope = "die" if held in reading.names("dies") else "range" if held in reading.names("presses") else ""
    if not scope:
        return say("Nothing entered: there is no die and no press “{name}” in the plant book.", name=held)
    if not begin and not end:
        return say("Nothing entered: say from when, or up to when.")
    number = service.place_hold(scope, held, reason=why, by=who, from_=begin, to=end)
    return say("Hold {hold} placed on {what}.", hold=number, what=named(scope, held))


def tags(service: LedgerService, clicks: list[int | None]) -> Any:
    """The tags of the hold whose button was pressed, as a file."""
    if not any(clicks):
        return no_update
    name = str(ctx.triggered_id["hold"])
    pdf = service.hold_tags(name)
    if not pdf:
        return no_update
    told = base64.b64encode(pdf).decode()
    return {"content": told, "base64": True, "filename": f"{file_name(name)}-tags.pdf", "type": "application/pdf"}


def file_name(text: str) -> str:
    """Text from a file as part of a file name: letters, digits, hyphens."""
    return re.sub(r"[^A-Za-z0-9-]+", "_", text)[:60] or "hold"


def register(app: Dash, service: LedgerService) -> None:
    """Add the callbacks of the trace page."""
    asked = picked(TRACE_SCOPE, "scope", ANYTHING), written(TRACE_VALUE, "value")
    offer(app.server, service, DOWNLOADS)
    RANGE.register(app, service, *asked, also=(Input(TRACE_FIND, "n_clicks"),))
    app.callback(
        Output(TRACE_BODY, "children"),
        Input(TRACE_URL, "search"),
        Input(ids.THEME, "data"),
        Input(TRACE_DONE, "data"),
        on_error=lambda error: [failure(error)],
    )(partial(draw, service))
    app.callback(
        Output(TRACE_DONE, "data"),
        inputs={
            "placed": Input(TRACE_PLACE, "n_clicks"),
            "lifted": Input({"type": TRACE_LIFT, "hold": ALL}, "n_clicks"),
            "stretched": Input(TRACE_STRETCH, "n_clicks"),
            "search": State(TRACE_URL, "search"),
            "why": State(TRACE_WHY, "value"),
            "who": State(TRACE_WHO, "value"),
            "stretch": tuple(State(name, "value") for name in (TRACE_HELD, TRACE_FROM, TRACE_TO)),
        },
        prevent_initial_call=True,
    )(partial(hold, service))
    app.callback(
        Output(TRACE_FILE, "data"),
        Input({"type": TRACE_TAGS, "hold": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )(partial(tags, service))


PAGE = Page("/trace", key("Trace"), layout, register)
