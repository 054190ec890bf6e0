"""What is shown, to take away: the figure's rows as CSV or Parquet, and the chart as PNG.

The rows are those of the figure table behind the chart, or those a page `offers`, under their own column names and in
SI units whatever is shown.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import partial
from http import HTTPStatus
from typing import Any

import pandas as pd
from dash import html
from flask import Flask, Response, request

from dashboards.ledger.service import LedgerService
from dashboards.ledger.version import LedgerVersion
from dashboards.parts.components import attributes
from dashboards.parts.picker import bounds
from dashboards.parts.totals import in_shift
from dashboards.request.locale import say, say_error
from dashboards.request.url import View
from monitor.export import as_csv, as_parquet
from monitor.figures import FIGURES
from shared.errors import StrokeledgerError

Rows = Callable[[LedgerVersion, View], pd.DataFrame]
"""Gives the rows of a table for a view."""

# A spreadsheet reads UTF-8 only where the file begins with a mark that says so.
_WRITERS: Mapping[str, tuple[Callable[[pd.DataFrame], bytes], str]] = {
    "csv": (lambda rows: ("\ufeff" + as_csv(rows)).encode(), "text/csv; charset=utf-8"),
    "parquet": (as_parquet, "application/vnd.apache.parquet"),
}


def download_links(figure: str, view: View, chart: str = "") -> Any:
    """Links that give the rows of a figure table for a view; `chart` is the id of the graph drawn from them."""
    words = [("CSV", "csv"), ("Parquet", "parquet")]
    given: list[Any] = [
        html.A(word, href=f"/take-away/{figure}.{ending}{view.search}", download="", className="take")
        for word, ending in words
    ]
    if chart:
        given.append(as_png(chart))
    label = attributes(aria_label=say("Take away: {what}", what=figure))
    return html.Div(given, className="takes", role="group", **label)


def as_png(chart: str) -> Any:
    """The button that gives a chart as a picture; `chart` is the id of its graph or drawing."""
    return html.Button("PNG", className="take", **attributes(data_png=chart, aria_label=say("Chart as PNG")))


def rows_of(reading: LedgerVersion, figure: str, view: View) -> pd.DataFrame:
    """Rows of a figure table in the range, shift, press and die of a view; KeyError for a table nobody has heard of."""
    if figure not in FIGURES:
        raise KeyError(figure)
    calendar = reading.calendar()
    since, to = bounds(calendar, view.but(shift=""))
    rows = reading.figure(figure, from_=since, to=to, press=view.press, die=view.die)
    return reading.exported(figure, in_shift(rows, view.shift, calendar))


def hand_out(server: Flask, service: LedgerService) -> None:
    """Let a server answer the links of `download_links` for figures."""

    def answer(figure: str, ending: str) -> Response:
        return _answer(service, figure, ending, lambda reading, view: rows_of(reading, figure, view))

    server.route("/take-away/<figure>.<ending>", endpoint="take-away")(answer)


def offer(server: Flask, service: LedgerService, tables: Mapping[str, Rows]) -> None:
    """Let a server answer the links of `download_links` for the tables of a page, by their names."""
    for name, rows in tables.items():
        answer = partial(_answer, service, name, rows=rows)
        server.route(f"/take-away/{name}.<ending>", endpoint=f"take-away-{name}")(answer)


def _answer(service: LedgerService, name: str, ending: str, rows: Rows) -> Response:
    view = View.parse(request.query_string.decode())
    if ending not in _WRITERS:
        return Response(status=HTTPStatus.NOT_FOUND)
    try:
        found = rows(service.read(), view)
    except KeyError:
        return Response(status=HTTPStatus.NOT_FOUND)
    except StrokeledgerError as error:
        return Response(say_error(error), HTTPStatus.BAD_REQUEST, mimetype="text/plain")
    write, kind = _WRITERS[ending]
    told = {"Content-Disposition": f'attachment; filename="{_file_name(name, view)}.{ending}"'}
    return Response(write(found), headers=told, content_type=kind)


def _file_name(figure: str, view: View) -> str:
    what = (figure, view.die, view.cause, view.press, view.customer, view.value)
    parts = (*what, view.date, view.since, view.until, view.week, view.shift)
    return "-".join(re.sub(r"[^A-Za-z0-9_.-]+", "_", str(part)) for part in parts if part)[:120]
