"""The die page below its pickers: totals, charts with their tables, and every shift in one table."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pandas as pd
import plotly.graph_objects as go
from dash import dcc, html

from dashboards import ids
from dashboards.die_model import DieView
from dashboards.elements import lack, number
from dashboards.formats import UNKNOWN, between, clock, count, day, decimal, share, short_day
from dashboards.tables import table
from dashboards.url import View
from monitor.charts import hours_chart, pareto_chart, rates_chart, waterfall_chart


def die_html(shown: DieView, dark: bool) -> list[Any]:
    """The page below the pickers, or the sentence that says what is lacking."""
    if shown.lack:
        return [lack(shown.lack)]
    title = f"{shown.view.die} {shown.die_name}".strip()
    return [
        html.Header([html.H1(title), html.P(_range(shown.view))], className="head"),
        html.Dl([number(total) for total in shown.totals], className="numbers totals"),
        _output(shown, dark),
        _standing(shown, dark),
        _strip(shown, dark),
        _scrap(shown, dark),
        html.Section([html.H2("Shift by shift"), _shift_table(shown.tables["shifts"])], className="panel whole"),
    ]


def _range(view: View) -> str:
    dates = f"{day(view.since)} to {day(view.until)}" if view.since and view.until else ""
    return f"{dates}, {view.shift} shift" if view.shift else dates


def _panel(title: str, figure_id: str, figure: go.Figure, beside: Any, note: str = "") -> Any:
    # A graph that follows the width takes its height from its box, not from the figure.
    box = {"height": f"{figure.layout.height}px"}
    graph = dcc.Graph(id=figure_id, figure=figure, config={"displayModeBar": False}, responsive=True, style=box)
    notes = [html.P(note, className="note")] if note else []
    return html.Section(
        [html.H2(title), html.Div([html.Div([graph, *notes], className="chart"), beside], className="pair")],
        className="panel",
    )


def _output(shown: DieView, dark: bool) -> Any:
    figure = hours_chart(shown.tables["hours"], shown.rated_per_hour, dark)
    return _panel("Parts per hour", ids.DIE_HOURS, figure, _hours_table(shown.tables["hours"]))


def _standing(shown: DieView, dark: bool) -> Any:
    reasons = shown.tables["reasons"]
    total = float(reasons["minutes"].sum())
    rows = pd.DataFrame(
        {
            "Reason": reasons["reason"],
            "Kind": [kind or UNKNOWN for kind in reasons["kind"]],
            "Minutes": [decimal(minutes, 0) for minutes in reasons["minutes"]],
            "Share": [share(minutes / total, 0) for minutes in reasons["minutes"]],
            "Stops": [count(number) for number in reasons["count"]],
        }
    )
    beside = table(rows, ("Reason", "Kind"), "Standing time by reason, planned breaks left out")
    return _panel("What the press stood for", ids.DIE_STOPS, pareto_chart(reasons, dark), beside)


def _strip(shown: DieView, dark: bool) -> Any:
    losses = shown.tables["losses"]
    rows = pd.DataFrame(
        {
            "Where it went": losses["label"],
            "kg": [decimal(kg) for kg in losses["kg"]],
            "Share": [share(part, 1) for part in losses["share"]],
        }
    )
    note = f"{shown.left_out} coils without a known weight are left out." if shown.left_out else ""
    note = f"{note} Coils count whole, whatever the shift." if shown.view.shift else note
    beside = table(rows, ("Where it went",), "Received = all parts below it, the difference with its sign")
    return _panel("Where the strip went", ids.DIE_STRIP, waterfall_chart(losses, dark), beside, note.strip())


def _scrap(shown: DieView, dark: bool) -> Any:
    causes = shown.tables["causes"]
    rows = pd.DataFrame(
        {
            "Cause": causes["label"],
            "Rate": [share(rate) for rate in causes["rate"]],
            "95 % interval": [
                between(low, high) or UNKNOWN for low, high in zip(causes["rate_low"], causes["rate_high"], strict=True)
            ],
            "Rejected": [count(number) for number in causes["rejected"]],
            "Inspected": [count(number) for number in causes["inspected"]],
            "By": ["sample" if estimate else "count" for estimate in causes["estimate"]],
        }
    )
    beside = table(rows, ("Cause", "By"), "Scrap by cause; a sample is an estimate")
    return _panel("Scrap by cause", ids.DIE_SCRAP, rates_chart(causes, dark), beside)


def _hours_table(hours: pd.DataFrame) -> Any:
    sums = hours.groupby("hour_start", as_index=False)[["pieces", "good", "rejected", "running_s"]].sum()
    sums = sums.sort_values("hour_start", ascending=False)
    rate = sums["pieces"].astype(float) * 3600 / sums["running_s"].where(sums["running_s"] > 0)
    rows = pd.DataFrame(
        {
            "Hour": [f"{short_day(dt.date.fromisoformat(at[:10]))} {clock(at)}" for at in sums["hour_start"]],
            "Pieces": [count(value) for value in sums["pieces"]],
            "Good": [count(value) for value in sums["good"]],
            "Rejected": [count(value) for value in sums["rejected"]],
            "Ran, min": [decimal(value / 60, 0) for value in sums["running_s"]],
            "Rate running": [count(value) for value in rate],
        }
    )
    return table(rows, ("Hour",), "Newest hour first", "strokeledger figures hours --ledger LEDGER")


def _shift_table(rows: pd.DataFrame) -> Any:
    words = ("Date", "Shift", "Press", "By", "Longest reason")
    return table(rows, words, "Newest shift first", "strokeledger figures shifts --ledger LEDGER")
