"""A chart with its table beside it: said in a sentence for who cannot see it, and to be taken away."""

from __future__ import annotations

from functools import cache
from typing import Any

import plotly.graph_objects as go
from babel import Locale
from dash import dcc, html

from dashboards.parts.components import attributes
from dashboards.request.locale import locale, say


def graph(chart: str, figure: go.Figure, told: str) -> Any:
    """A chart as wide as its box, drawn in the language of whoever looks; `told` says in a sentence what it shows."""
    # A graph that follows the width takes its height from its box, not from the figure.
    box = {"height": f"{figure.layout.height}px"}
    drawn = dcc.Graph(id=chart, figure=figure, config=_config(locale().language), responsive=True, style=box)
    return html.Div(drawn, role="img", **attributes(aria_label=told))


def panel(title: str, chart: Any, table: Any, takes: Any = None, note: str = "") -> Any:
    """A section of a page: the chart, and beside it the table, which can be folded away."""
    notes = [html.P(note, className="note")] if note else []
    beside = html.Details([html.Summary(say("Table")), table], open=True, className="beside")
    head = [html.H2(title), *([takes] if takes else [])]
    pair = html.Div([html.Div([chart, *notes], className="chart"), beside], className="pair")
    return html.Section([html.Div(head, className="panel-head"), pair], className="panel")


@cache
def _config(language: str) -> Any:
    """How Plotly writes dates and which buttons it shows: none."""
    months = Locale.parse(language).months["format"]
    days = Locale.parse(language).days["format"]
    sunday_first = (6, 0, 1, 2, 3, 4, 5)
    names = {
        "months": [months["wide"][n] for n in range(1, 13)],
        "shortMonths": [months["abbreviated"][n] for n in range(1, 13)],
        "days": [days["wide"][n] for n in sunday_first],
        "shortDays": [days["abbreviated"][n] for n in sunday_first],
    }
    # A name that Plotly knows nothing of, so that these names alone are taken.
    return {"displayModeBar": False, "locale": f"own-{language}", "locales": {f"own-{language}": {"format": names}}}
