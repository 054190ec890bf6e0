"""The intake page: what became of every file and row, and letting rows in that were set aside."""

from __future__ import annotations

import base64
import binascii
import time
from functools import partial
from typing import Any

from dash import Dash, Input, Output, State, ctx, dcc, html, no_update

from dashboards.ledger.service import LedgerService
from dashboards.ledger.version import LedgerVersion
from dashboards.pages.intake import (
    INTAKE_BODY,
    INTAKE_CLOCKS,
    INTAKE_COLUMN,
    INTAKE_CONTRADICTED,
    INTAKE_CORRECT,
    INTAKE_DATES,
    INTAKE_DONE,
    INTAKE_FILE,
    INTAKE_FILES,
    INTAKE_GET,
    INTAKE_PUT,
    INTAKE_RANGES,
    INTAKE_REASON,
    INTAKE_RELEASE,
    INTAKE_ROWS,
    INTAKE_STAMP,
    INTAKE_TICK,
    INTAKE_TOTALS,
    INTAKE_URL,
    INTAKE_VALUE,
    INTAKE_WATCH,
    INTAKE_WHO,
)
from dashboards.pages.intake.model import (
    ALL,
    DOWNLOADS,
    IntakeView,
    ids_of,
    load_intake,
    newest_load_us,
    reasons_of,
    watch_words,
)
from dashboards.pages.intake.view import clocks_html, edit_form, files_html, picker, rows_html, summary_html
from dashboards.parts.components import failure
from dashboards.parts.contradictions import listed_html
from dashboards.parts.download import offer
from dashboards.parts.linked_fields import picked
from dashboards.parts.page import Page
from dashboards.parts.picker import RangePicker
from dashboards.request.locale import key, locale, say, say_error
from dashboards.request.url import View
from monitor.load.set_aside import export, read_back
from shared.errors import RequestError, StrokeledgerError
from shared.phrases import phrase

TICK_MS = 5_000

RANGE = RangePicker(
    "/intake",
    INTAKE_URL,
    INTAKE_DATES,
    INTAKE_RANGES,
    lambda _, view: view,
    whole=True,
    newest=newest_load_us,
)


def layout(reading: LedgerVersion, view: View) -> Any:
    """Counts, reasons and rows of the newest version; the clock asks for newer ones."""
    shown = _shown(reading, view)
    return html.Div(
        [
            dcc.Location(id=INTAKE_URL, refresh="callback-nav"),
            dcc.Interval(id=INTAKE_TICK, interval=TICK_MS),
            dcc.Store(id=INTAKE_STAMP, data=reading.version),
            html.Div(
                [html.Header(html.H1(say("Intake")), className="head"), RANGE.shows(reading, view)], className="pickers"
            ),
            html.P("", id=INTAKE_WATCH, className="summary", role="status"),
            html.Div(summary_html(shown), id=INTAKE_TOTALS),
            html.Section(listed_html(shown.contradicted, shown.view), id=INTAKE_CONTRADICTED, className="panel"),
            html.Section(clocks_html(shown), id=INTAKE_CLOCKS),
            html.Section(
                [
                    html.H2(say("Rows set aside")),
                    html.Div(picker(shown), className="reasons"),
                    html.Div(edit_form(), className="pickers search"),
                    html.P("", id=INTAKE_DONE, className="summary", role="status"),
                    html.Div(rows_html(shown), id=INTAKE_BODY),
                ],
                className="panel",
            ),
            html.Section([html.H2(say("Files")), html.Div(files_html(shown), id=INTAKE_FILES)], className="panel"),
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
        if ctx.triggered_id == INTAKE_PUT:
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
    held = held.assign(reason=reasons_of(held))
    return {"content": "\ufeff" + export(held), "filename": "set-aside.csv", "type": "text/csv"}


def register(app: Dash, service: LedgerService) -> None:
    """Add the callbacks of the intake page."""
    offer(app.server, service, DOWNLOADS)
    RANGE.register(app, service, picked(INTAKE_REASON, "value", ALL))
    app.callback(
        Output(INTAKE_WATCH, "children"),
        Output(INTAKE_STAMP, "data"),
        Input(INTAKE_TICK, "n_intervals"),
        State(INTAKE_STAMP, "data"),
    )(partial(tick, service))
    app.callback(
        Output(INTAKE_TOTALS, "children"),
        Output(INTAKE_CONTRADICTED, "children"),
        Output(INTAKE_CLOCKS, "children"),
        Output(INTAKE_REASON, "options"),
        Output(INTAKE_BODY, "children"),
        Output(INTAKE_COLUMN, "options"),
        Output(INTAKE_FILES, "children"),
        Input(INTAKE_STAMP, "data"),
        Input(INTAKE_URL, "search"),
        on_error=lambda error: (*[no_update] * 4, [failure(error)], no_update, no_update),
    )(partial(draw, service))
    app.callback(
        Output(INTAKE_DONE, "children"),
        Output(INTAKE_STAMP, "data", allow_duplicate=True),
        Input(INTAKE_RELEASE, "n_clicks"),
        Input(INTAKE_PUT, "contents"),
        State(INTAKE_URL, "search"),
        State(INTAKE_ROWS, "value"),
        State(INTAKE_COLUMN, "value"),
        State(INTAKE_VALUE, "value"),
        State(INTAKE_CORRECT, "value"),
        State(INTAKE_WHO, "value"),
        prevent_initial_call=True,
    )(partial(release, service))
    app.callback(
        Output(INTAKE_FILE, "data"),
        Input(INTAKE_GET, "n_clicks"),
        State(INTAKE_URL, "search"),
        prevent_initial_call=True,
    )(partial(download, service))


def _shown(reading: LedgerVersion, view: View) -> IntakeView:
    return reading.cached(("intake", view.search, *locale().key), lambda: load_intake(reading, view))


def _text(content: str) -> str:
    """Text of an uploaded file, which comes as a data address."""
    try:
        return base64.b64decode(content.partition(",")[2], validate=True).decode("utf-8-sig")
    except (binascii.Error, UnicodeDecodeError):
        seen, expected = phrase("no text in UTF-8"), phrase("a mended CSV")
        raise RequestError(phrase("the file"), seen, expected, phrase("save it as CSV UTF-8")) from None


PAGE = Page("/intake", key("Intake"), layout, register)
