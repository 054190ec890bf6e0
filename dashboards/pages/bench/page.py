"""The bench page: coil, die or run, for one die and cause over a range of days."""

from __future__ import annotations

import base64
from functools import partial
from typing import Any

from dash import Dash, Input, Output, State, ctx, dcc, html, no_update

from dashboards import ids
from dashboards.ledger.service import LedgerService
from dashboards.ledger.version import LedgerVersion
from dashboards.pages.bench import (
    BENCH_BODY,
    BENCH_CAUSE,
    BENCH_CSV,
    BENCH_DATES,
    BENCH_DIE,
    BENCH_FILE,
    BENCH_PDF,
    BENCH_RANGES,
    BENCH_URL,
)
from dashboards.pages.bench.model import chosen, load_bench, look_of, with_dates
from dashboards.pages.bench.rows import DOWNLOADS
from dashboards.pages.bench.view import bench_html
from dashboards.parts.components import attributes, draw_cached, failure
from dashboards.parts.download import offer
from dashboards.parts.page import Page
from dashboards.parts.picker import RangePicker
from dashboards.request.locale import key, locale, say
from dashboards.request.url import View
from monitor.report.evidence.sheet import EvidenceQuery, file_names
from monitor.verdict.table import table_level
from shared.words import words

RANGE = RangePicker("/bench", BENCH_URL, BENCH_DATES, BENCH_RANGES, with_dates)


def layout(reading: LedgerVersion, view: View) -> Any:
    """The range filled from the address and a progress sign; the answer follows once it is worked out."""
    working = attributes(data_working=say("Working out what moves the scrap of every die and cause …"))
    return html.Div(
        [
            dcc.Location(id=BENCH_URL, refresh="callback-nav"),
            dcc.Download(id=BENCH_FILE),
            html.Div(RANGE.shows(reading, view), className="pickers"),
            html.Div(id=BENCH_BODY, className="die bench", **working),
        ]
    )


def pick(service: LedgerService, die: str | None, cause: str | None, search: str | None) -> Any:
    """The address of the die and cause picked; a picker that only appeared has picked nothing."""
    before = View.parse(search)
    now = chosen(service.read(), before)
    if (die or "", cause or "") == (now.die, now.cause):
        return no_update
    # Another die has its own causes: the strongest of them is shown, unless the same cause was found there.
    wanted = chosen(service.read(), before.but(die=die or "", cause=cause or "", scope="", value=""))
    return before.but(die=wanted.die, cause=wanted.cause, scope="", value="").search


def draw(service: LedgerService, search: str | None, theme: str | None) -> list[Any]:
    """The lines, charts and tables of the die and cause in the address."""
    reading, view = service.read(), View.parse(search)
    asked = ("bench", view.search, theme or "")
    return draw_cached(reading, asked, lambda: bench_html(load_bench(reading, view), dark=theme == "dark"))


def hand_out(service: LedgerService, pdf: int | None, csv: int | None, search: str | None) -> Any:
    """The sheet or its rows as a download; a button that only appeared has not been pressed."""
    if not (pdf or csv):
        return no_update
    reading = service.read()
    shown = load_bench(reading, View.parse(search))
    seen = look_of(reading, shown.view)
    if seen is None or shown.line is None:
        return no_update
    asked = EvidenceQuery(
        shown.view.die, shown.view.cause, shown.line.explanation.factor, table_level(shown.line.explanation)
    )
    sheet, rows, _ = file_names(asked)
    name = sheet if ctx.triggered_id == BENCH_PDF else rows
    # The sheet is what the command prints of it, whatever units the page is shown in.
    content = base64.b64encode(reading.evidence_files(seen, asked, words(locale().language))[name]).decode()
    return {"content": content, "filename": name, "base64": True}


def register(app: Dash, service: LedgerService) -> None:
    """Add the callbacks of the bench page."""
    RANGE.register(app, service)
    offer(app.server, service, DOWNLOADS)
    app.callback(
        Output(BENCH_URL, "search", allow_duplicate=True),
        Input(BENCH_DIE, "value"),
        Input(BENCH_CAUSE, "value"),
        State(BENCH_URL, "search"),
        prevent_initial_call=True,
    )(partial(pick, service))
    app.callback(
        Output(BENCH_BODY, "children"),
        Input(BENCH_URL, "search"),
        Input(ids.THEME, "data"),
        on_error=lambda error: [failure(error)],
    )(partial(draw, service))
    app.callback(
        Output(BENCH_FILE, "data"),
        Input(BENCH_PDF, "n_clicks"),
        Input(BENCH_CSV, "n_clicks"),
        State(BENCH_URL, "search"),
        prevent_initial_call=True,
    )(partial(hand_out, service))


PAGE = Page("/bench", key("Bench"), layout, register)
