"""The intake page: what became of every file and row, and letting rows in that were set aside."""

from __future__ import annotations

import base64
import binascii
import time
from functools import partial
from typing import Any

from dash import Dash, Input, Output, State, ctx, dcc, html, no_update

from dashboards import ids
from dashboards.ledger.service import LedgerService
from dashboards.ledger.version import LedgerVersion
from dashboards.pages.intake.model import ALL, TAKEN, IntakeView, ids_of, load_intake, newest_load_us, watch_words
from dashboards.pages.intake.view import clocks_html, files_html, mending, picker, rows_html, summary_html
from dashboards.parts.contradictions import listed_html
from dashboards.parts.download import offer
from dashboards.parts.elements import failure
from dashboards.parts.linked_fields import picked
from dashboards.parts.page import Page
from dashboards.parts.picker import RangePicker
from dashboards.request.locale import key, manner, say, say_again, say_error
from dashboards.request.url import View
from monitor.load.set_aside import export, read_back
from shared.errors import RequestError, StrokeledgerError
from shared.phrases import phrase

TICK_MS = 5_000

RANGE = RangePicker(
    "/intake",
    ids.INTAKE_URL,
    ids.INTAKE_DATES,
    ids.INTAKE_RANGES,
    lambda _, view: view,
    whole=True,
    newest=newest_load_us,
)


def layout(reading: LedgerVersion, view: View) -> Any:
    """Counts, reasons and rows of the newest version; the clock asks for newer ones."""
    shown = _shown(reading, view)
    return html.Div(
        [
            dcc.Location(id=ids.INTAKE_URL, refresh="callback-nav"),
            dcc.Interval(id=ids.INTAKE_TICK, interval=TICK_MS),
            dcc.Store(id=ids.INTAKE_STAMP, data=reading.version),
            html.Div(
                [html.Header(html.H1(say("Intake")), className="head"), RANGE.shows(reading, view)], className="pickers"
            ),
            html.P("", id=ids.INTAKE_WATCH, className="summary", role="status"),
            html.Div(summary_html(shown), id=ids.INTAKE_TOTALS),
            html.Section(listed_html(shown.contradicted, shown.view), id=ids.INTAKE_CONTRADICTED, className="panel"),
            html.Section(clocks_html(shown), id=ids.INTAKE_CLOCKS),
            html.Section(
                [
                    html.H2(say("Rows set aside")),
                    html.Div(picker(shown), className="reasons"),
                    html.Div(mending(), className="pickers search"),
                    html.P("", id=ids.INTAKE_DONE, className="summary", role="status"),
                    html.Div(rows_html(shown), id=ids.INTAKE_BODY),
                ],
                className="panel",
            ),
            html.Section([html.H2(say("Files")), html.Div(files_html(shown), id=ids.INTAKE_FILES)], className="panel"),
        ],
        className="die",
    )


def tick(service: LedgerService, _count: int | None, stamp: int | None) -> tuple[Any, Any]:
    """The watch in words, and the version where it is a newer one."""
    version = service.read().version
    return watch_words(service.watch(), time.time_ns() // 1_000), no_update if version == stamp else version


def draw(service: LedgerService, _version: int | None, search: str | None) -> tuple[Any, ...]:
    """Everything that follows from the version and the address."""
    shown = _shown(service.read(), View.parse(search))
    above = summary_html(shown), listed_html(shown.contradicted, shown.view), clocks_html(shown), picker(shown).options
    return *above, rows_html(shown), list(shown.columns), files_html(shown)


def release(
    service: LedgerService,
    _clicks: int | None,
    content: str | None,
    search: str | None,
    rows: str | None,
    column: str | None,
    value: str | None,
    correct: list[str] | None,
    who: str | None,
) -> tuple[Any, Any]:
    """Let rows in, and say what became of them; the version makes the page draw itself anew."""
    name = (who or "").strip()
    if not name:
        return say("Nothing entered: say who you are."), no_update
    try:
        if ctx.triggered_id == ids.INTAKE_PUT:
            return service.release_rows(
                dict(read_back(_text(content or ""), phrase("the file"))), {}, name, bool(correct)
            )
        wanted = ids_of(_shown(service.read(), View.parse(search)), rows or "")
        values = {column: value or ""} if column else {}
        return service.release_rows(dict.fromkeys(wanted), values, name, bool(correct))
    except (StrokeledgerError, ValueError) as error:
        told = say("Rows are named by numbers such as 7, 12-20.") if isinstance(error, ValueError) else say_error(error)
        return told, no_update


def download(service: LedgerService, clicks: int | None, search: str | None) -> Any:
    """The rows of the reason chosen as CSV, to be mended in a spreadsheet."""
    if not clicks:
        return no_update
    reading = service.read()
    shown, aside = _shown(reading, View.parse(search)), reading.figure("set_aside")
    held = aside[aside["id"].isin(ids_of(shown, ""))]
    held = held.assign(reason=[say_again(why) for why in held["reason"]])
    return {"content": "\ufeff" + export(held), "filename": "set-aside.csv", "type": "text/csv"}


def register(app: Dash, service: LedgerService) -> None:
    """Add the callbacks of the intake page."""
    offer(app.server, service, TAKEN)
    RANGE.register(app, service, picked(ids.INTAKE_REASON, "value", ALL))
    app.callback(
        Output(ids.INTAKE_WATCH, "children"),
        Output(ids.INTAKE_STAMP, "data"),
        Input(ids.INTAKE_TICK, "n_intervals"),
        State(ids.INTAKE_STAMP, "data"),
    )(partial(tick, service))
    app.callback(
        Output(ids.INTAKE_TOTALS, "children"),
        Output(ids.INTAKE_CONTRADICTED, "children"),
        Output(ids.INTAKE_CLOCKS, "children"),
        Output(ids.INTAKE_REASON, "options"),
        Output(ids.INTAKE_BODY, "children"),
        Output(ids.INTAKE_COLUMN, "options"),
        Output(ids.INTAKE_FILES, "children"),
        Input(ids.INTAKE_STAMP, "data"),
        Input(ids.INTAKE_URL, "search"),
        on_error=lambda error: (*[no_update] * 4, [failure(error)], no_update, no_update),
    )(partial(draw, service))
    app.callback(
        Output(ids.INTAKE_DONE, "children"),
        Output(ids.INTAKE_STAMP, "data", allow_duplicate=True),
        Input(ids.INTAKE_RELEASE, "n_clicks"),
        Input(ids.INTAKE_PUT, "contents"),
        State(ids.INTAKE_URL, "search"),
        State(ids.INTAKE_ROWS, "value"),
        State(ids.INTAKE_COLUMN, "value"),
        State(ids.INTAKE_VALUE, "value"),
        State(ids.INTAKE_CORRECT, "value"),
        State(ids.INTAKE_WHO, "value"),
        prevent_initial_call=True,
    )(partial(release, service))
    app.callback(
        Output(ids.INTAKE_FILE, "data"),
        Input(ids.INTAKE_GET, "n_clicks"),
        State(ids.INTAKE_URL, "search"),
        prevent_initial_call=True,
    )(partial(download, service))


def _shown(reading: LedgerVersion, view: View) -> IntakeView:
    return reading.cached(("intake", view.search, *manner().key), lambda: load_intake(reading, view))


def _text(content: str) -> str:
    """Text of an uploaded file, which comes as a data address."""
    try:
        return base64.b64decode(content.partition(",")[2], validate=True).decode("utf-8-sig")
    except (binascii.Error, UnicodeDecodeError):
        seen, expected = phrase("no text in UTF-8"), phrase("a mended CSV")
        raise RequestError(phrase("the file"), seen, expected, phrase("save it as CSV UTF-8")) from None


PAGE = Page("/intake", key("Intake"), layout, register)
