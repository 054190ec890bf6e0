"""The hand-over page: what a shift hands over to the next, on screen and on paper, and its notes."""

from __future__ import annotations

import base64
import datetime as dt
from functools import partial
from typing import Any

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.ledger.service import LedgerService
from dashboards.ledger.version import LedgerVersion
from dashboards.pages.handover import (
    HANDOVER_BODY,
    HANDOVER_FILE,
    HANDOVER_NOTE,
    HANDOVER_PAPER,
    HANDOVER_PRESS,
    HANDOVER_STAMP,
    HANDOVER_TICK,
    HANDOVER_URL,
    HANDOVER_VIEW,
    HANDOVER_WRITE,
)
from dashboards.pages.handover.view import DOWNLOADS, handover_html, note_html
from dashboards.parts.components import attributes, failure
from dashboards.parts.download import offer
from dashboards.parts.page import Page
from dashboards.parts.shift_shown import shifts_around
from dashboards.reason_sheet.callbacks import UNNAMED
from dashboards.reason_sheet.view import entered, sheet
from dashboards.request.locale import key, locale, say, say_error
from dashboards.request.url import View
from monitor.handover.sheet import sheet as in_words
from shared.errors import StrokeledgerError

REFRESH_MS = 30_000


def layout(reading: LedgerVersion, view: View) -> Any:
    """The sheet of the shift in the address, by default that of the newest reading."""
    told = reading.floor.hand_over(view.date, view.shift, view.press)
    body = html.Div(handover_html(told, reading.calendar(), view.press), id=HANDOVER_BODY)
    if told.lack:
        return html.Div(body)
    chosen = view.but(date=told.date, shift=told.shift)
    return html.Div(
        [
            dcc.Location(id=HANDOVER_URL, refresh="callback-nav"),
            dcc.Interval(id=HANDOVER_TICK, interval=REFRESH_MS),
            dcc.Store(id=HANDOVER_STAMP, data=reading.version),
            dcc.Store(id=HANDOVER_VIEW, data=chosen.search),
            dcc.Download(id=HANDOVER_FILE),
            html.Nav(_ways(reading, chosen), className="ways", **attributes(aria_label=say("Shifts"))),
            body,
            note_html([line.press_id for line in told.presses]),
            sheet(),
        ]
    )


def refresh(
    service: LedgerService, _tick: int | None, _entered: Any, stamp: int | None, search: str | None
) -> tuple[Any, int]:
    """The sheet of a newer version; nothing while the ledger stays as it is."""
    reading = service.read()
    if reading.version == stamp:
        raise PreventUpdate
    view = View.parse(search)
    return handover_html(
        reading.floor.hand_over(view.date, view.shift, view.press), reading.calendar(), view.press
    ), reading.version


def print_it(service: LedgerService, clicks: int | None, search: str | None) -> Any:
    """The sheet on paper."""
    reading, view, words = service.read(), View.parse(search), locale().words
    calendar = reading.calendar()
    told = reading.floor.hand_over(view.date, view.shift, view.press)
    if not clicks or told.lack or calendar is None:
        raise PreventUpdate
    pdf = service.floor.hand_over_pdf(in_words(told, words, calendar), told.plant, words)
    name = f"hand-over-{told.date}-{_plain(told.shift)}.pdf"
    return {"content": base64.b64encode(pdf).decode(), "filename": name, "type": "application/pdf", "base64": True}


def write(
    service: LedgerService, clicks: int | None, search: str | None, press: str | None, note: str | None, who: str | None
) -> tuple[Any, Any, Any]:
    """Write a note on the shift; the field is emptied once it is kept."""
    if not clicks:
        raise PreventUpdate
    view, by = View.parse(search), (who or "").strip() or UNNAMED
    try:
        receipt = service.floor.write_note(view.date or dt.date.min, view.shift, press or "", note or "", by)
    except StrokeledgerError as error:
        return say_error(error), no_update, no_update
    return entered(say("Note written."), receipt.load_id), {"version": receipt.version}, ""


def register(app: Dash, service: LedgerService) -> None:
    """Add the callbacks of the page."""
    offer(app.server, service, DOWNLOADS)
    app.callback(
        Output(HANDOVER_BODY, "children"),
        Output(HANDOVER_STAMP, "data"),
        Input(HANDOVER_TICK, "n_intervals"),
        Input(ids.FLOOR_ENTERED, "data"),
        State(HANDOVER_STAMP, "data"),
        State(HANDOVER_VIEW, "data"),
        prevent_initial_call=True,
        on_error=lambda error: ([failure(error)], 0),
    )(partial(refresh, service))
    app.callback(
        Output(HANDOVER_FILE, "data"),
        Input(HANDOVER_PAPER, "n_clicks"),
        State(HANDOVER_VIEW, "data"),
        prevent_initial_call=True,
    )(partial(print_it, service))
    app.callback(
        Output(ids.FLOOR_TOLD, "children", allow_duplicate=True),
        Output(ids.FLOOR_ENTERED, "data", allow_duplicate=True),
        Output(HANDOVER_NOTE, "value"),
        Input(HANDOVER_WRITE, "n_clicks"),
        State(HANDOVER_VIEW, "data"),
        State(HANDOVER_PRESS, "value"),
        State(HANDOVER_NOTE, "value"),
        State(ids.FLOOR_WHO, "value"),
        prevent_initial_call=True,
    )(partial(write, service))


def _ways(reading: LedgerVersion, view: View) -> list[Any]:
    """Ways to the shifts before and after, to all presses, and the button that prints."""
    earlier, later = shifts_around(reading, view)
    ways: list[Any] = []
    if earlier:
        ways.append(dcc.Link(say("← earlier shift"), href=f"/handover{earlier.but(press=view.press).search}"))
    if later:
        ways.append(dcc.Link(say("later shift →"), href=f"/handover{later.but(press=view.press).search}"))
    if view.press:
        ways.append(dcc.Link(say("all presses"), href=f"/handover{view.but(press='').search}"))
    ways.append(html.Button(say("PDF"), id=HANDOVER_PAPER, className="act"))
    return ways


def _plain(text: str) -> str:
    """A name that is safe in the name of a file."""
    return "".join(sign if sign.isalnum() else "-" for sign in text)[:40]


PAGE = Page("/handover", key("Hand-over"), layout, register)
