"""The week page: what a customer is told about a week, made into files, marked as sent, with what was done about it."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from functools import partial
from html import escape
from http import HTTPStatus
from pathlib import PurePosixPath
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, no_update
from flask import Response, request

from dashboards.ledger.quality_desk import Job, QualityDesk, Week
from dashboards.ledger.service import LedgerService
from dashboards.ledger.version import LedgerVersion
from dashboards.pages.week import (
    WEEK_ALL,
    WEEK_BODY,
    WEEK_BY,
    WEEK_CUSTOMER,
    WEEK_DONE,
    WEEK_JOB,
    WEEK_MAKE,
    WEEK_PROGRESS,
    WEEK_RANGES,
    WEEK_SAVE,
    WEEK_SENT,
    WEEK_TEXT,
    WEEK_TICK,
    WEEK_URL,
    WEEK_WAS,
    WEEK_WEEK,
    WEEK_WHO,
)
from dashboards.pages.week.model import load_week, ranges, week_rows
from dashboards.pages.week.view import job_html, week_html
from dashboards.parts.components import failure, list_words
from dashboards.parts.download import offer
from dashboards.parts.page import Page
from dashboards.parts.picker import range_nav
from dashboards.request.formats import short_day
from dashboards.request.locale import key, say, say_error
from dashboards.request.url import View
from shared.errors import StrokeledgerError

TICK_MS = 400

_TYPES = {
    ".pdf": "application/pdf",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ".html": "text/html; charset=utf-8",
    ".zip": "application/zip",
}


def layout(reading: LedgerVersion, view: View) -> Any:
    """The frame; pickers and report follow from the address."""
    buttons = [
        html.Button(say("Make this report"), id=WEEK_MAKE, className="act"),
        html.Button(say("Make the reports of all customers"), id=WEEK_ALL, className="act"),
    ]
    told = list_words()
    week = dcc.Dropdown(id=WEEK_WEEK, clearable=False, className="pick-die", labels=told)
    return html.Div(
        [
            dcc.Location(id=WEEK_URL, refresh="callback-nav"),
            dcc.Store(id=WEEK_DONE),
            dcc.Store(id=WEEK_JOB),
            dcc.Interval(id=WEEK_TICK, interval=TICK_MS, disabled=True),
            html.Div(
                [
                    html.Label(
                        [
                            say("Customer"),
                            dcc.Dropdown(id=WEEK_CUSTOMER, clearable=False, className="pick-die", labels=told),
                        ]
                    ),
                    html.Div([html.Label([say("Week"), week]), html.Div(id=WEEK_RANGES)], className="range-picker"),
                ],
                className="pickers",
            ),
            html.Div(buttons, className="pickers"),
            html.Div(id=WEEK_PROGRESS, className="making"),
            html.Div(
                html.P(say("The report is being worked out."), className="note"), id=WEEK_BODY, className="die week"
            ),
        ]
    )


def sync(search: str | None, customer: str | None, week: str | None) -> Any:
    """Address and pickers kept the same: whichever changed is taken, and the address never rewrites itself."""
    if ctx.triggered_id == WEEK_URL:
        return no_update
    view = View.parse(search)
    picked = view.but(customer=customer or view.customer, week=week or view.week)
    return picked.search if picked != view else no_update


def draw(service: LedgerService, search: str | None, done: str | None) -> tuple[Any, ...]:
    """The report of the address, and the pickers that show it."""
    shown = load_week(service.desk, View.parse(search))
    customers = sorted({*shown.customers, shown.customer} - {""})
    weeks = [{"label": _label(week), "value": week.name} for week in shown.all_weeks]
    week = shown.week.name if shown.week else None
    nav = range_nav("/week", ranges(shown))
    return week_html(shown, done or ""), customers, shown.customer or None, weeks, week, nav


def start(service: LedgerService, one: int | None, every: int | None, search: str | None) -> tuple[Any, ...]:
    """Begin to make the report shown, or those of all customers; a button that only appeared was not pressed."""
    if not (one or every):
        return no_update, no_update, no_update
    shown = load_week(service.desk, View.parse(search))
    if shown.week is None or (shown.report is None and ctx.triggered_id == WEEK_MAKE):
        return no_update, True, html.P(shown.lack, className="fault", role="alert")
    chosen = shown.customers if ctx.triggered_id == WEEK_ALL else [shown.customer]
    number = service.desk.start(shown.week.name, list(chosen))
    return number, False, job_html(number, service.desk.job(number))


def tick(service: LedgerService, _: int | None, number: str | None) -> tuple[Any, ...]:
    """How far the job is; the clock stops with it."""
    job = service.desk.job(number or "")
    return job_html(number or "", job), job is None or job.finished


def mark(service: LedgerService, clicks: int | None, number: str | None, who: str | None) -> tuple[Any, ...]:
    """Note the reports of a job as sent."""
    if not clicks or not number:
        return no_update, no_update
    try:
        sent = service.desk.mark_sent(number, who or "")
    except StrokeledgerError as error:
        return job_html(number, service.desk.job(number), fault=say_error(error)), no_update
    names = ", ".join(entry.customer for entry in sent)
    return job_html(number, service.desk.job(number), sent), say("Noted as sent: {names}.", names=names)


def save(
    service: LedgerService,
    clicks: int | None,
    texts: list[str | None],
    was: list[str | None],
    who: str | None,
    search: str | None,
) -> Any:
    """Enter what was done about the causes shown."""
    if not clicks:
        return no_update
    shown = load_week(service.desk, View.parse(search))
    keys = [tuple(entry["id"]["key"].split("\n", 1)) for entry in ctx.states_list[0]]
    changed = {(k[0], k[1]): (old or "", new or "") for k, old, new in zip(keys, was, texts, strict=True)}
    try:
        service.desk.write(shown.customer, shown.week.name if shown.week else "", changed, who or "")
    except StrokeledgerError as error:
        return say_error(error)
    return say("What was done is kept; it stands in the report from now on.")


def register(app: Dash, service: LedgerService) -> None:
    """Add the callbacks of the week page, and the address its files are fetched from."""
    app.callback(
        Output(WEEK_URL, "search"),
        Input(WEEK_URL, "search"),
        Input(WEEK_CUSTOMER, "value"),
        Input(WEEK_WEEK, "value"),
        prevent_initial_call=True,
    )(sync)
    app.callback(
        Output(WEEK_BODY, "children"),
        Output(WEEK_CUSTOMER, "options"),
        Output(WEEK_CUSTOMER, "value"),
        Output(WEEK_WEEK, "options"),
        Output(WEEK_WEEK, "value"),
        Output(WEEK_RANGES, "children"),
        Input(WEEK_URL, "search"),
        Input(WEEK_DONE, "data"),
        on_error=lambda error: ([failure(error)], *[no_update] * 5),
    )(partial(draw, service))
    _register_making(app, service)
    app.callback(
        Output(WEEK_DONE, "data", allow_duplicate=True),
        Input(WEEK_SAVE, "n_clicks"),
        State({"type": WEEK_TEXT, "key": ALL}, "value"),
        State({"type": WEEK_WAS, "key": ALL}, "data"),
        State(WEEK_BY, "value"),
        State(WEEK_URL, "search"),
        prevent_initial_call=True,
    )(partial(save, service))
    offer(app.server, service, {"customer_week": partial(week_rows, service.desk)})
    app.server.route("/papers/<number>/<path:name>", endpoint="papers")(partial(fetch, service.desk))
    app.server.route("/preview", endpoint="preview")(partial(preview, service.desk))


def _register_making(app: Dash, service: LedgerService) -> None:
    app.callback(
        Output(WEEK_JOB, "data"),
        Output(WEEK_TICK, "disabled"),
        Output(WEEK_PROGRESS, "children"),
        Input(WEEK_MAKE, "n_clicks"),
        Input(WEEK_ALL, "n_clicks"),
        State(WEEK_URL, "search"),
        prevent_initial_call=True,
    )(partial(start, service))
    app.callback(
        Output(WEEK_PROGRESS, "children", allow_duplicate=True),
        Output(WEEK_TICK, "disabled", allow_duplicate=True),
        Input(WEEK_TICK, "n_intervals"),
        State(WEEK_JOB, "data"),
        prevent_initial_call=True,
    )(partial(tick, service))
    app.callback(
        Output(WEEK_PROGRESS, "children", allow_duplicate=True),
        Output(WEEK_DONE, "data"),
        Input(WEEK_SENT, "n_clicks"),
        State(WEEK_JOB, "data"),
        State(WEEK_WHO, "value"),
        prevent_initial_call=True,
    )(partial(mark, service))


def preview(desk: QualityDesk) -> Response:
    """The page of a report as the customer gets it."""
    try:
        shown = load_week(desk, View.parse(request.query_string.decode()))
    except StrokeledgerError as error:
        page = escape(say_error(error))
    else:
        page = shown.report.page if shown.report else escape(shown.lack)
    return Response(page, headers={"Cache-Control": "no-store"}, content_type="text/html; charset=utf-8")


def fetch(desk: QualityDesk, number: str, name: str) -> Response:
    """A file of a job, or all of them as one ZIP; nothing but what the job made can be asked for."""
    job = desk.job(number)
    if job is None or not job.finished:
        return Response(status=HTTPStatus.NOT_FOUND)
    content = _zipped(job.files) if name == "all.zip" else job.files.get(name)
    if content is None:
        return Response(status=HTTPStatus.NOT_FOUND)
    path = PurePosixPath(name)
    kind = _TYPES.get(path.suffix, "application/octet-stream")
    disposition = {"Content-Disposition": f'attachment; filename="{_file_name(job, path)}"'}
    return Response(content, headers=disposition, content_type=kind)


def _file_name(job: Job, path: PurePosixPath) -> str:
    """Customer and week, in letters any system takes: the folders of the job are made of nothing else."""
    if path.name == "all.zip":
        return f"reports-{job.week}.zip"
    name = f"{path.parts[0]}-{job.week}{path.suffix}"
    return name.encode("ascii", "replace").decode().replace("?", "_")


def _zipped(files: Mapping[str, bytes]) -> bytes:
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return whole.getvalue()


def _label(week: Week) -> str:
    return say("{week}, {first} to {last}", week=week.name, first=short_day(week.first), last=short_day(week.last))


PAGE = Page("/week", key("Week"), layout, register)
