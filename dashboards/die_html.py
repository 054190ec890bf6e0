"""The die page below its pickers: totals, charts with their tables, and every shift in one table."""

from __future__ import annotations

import datetime as dt
from types import MappingProxyType
from typing import Any

import pandas as pd
import plotly.graph_objects as go
from dash import dcc, html

from dashboards import ids
from dashboards.die_model import DieView, found_by
from dashboards.elements import lack, number
from dashboards.formats import UNKNOWN, between, clock, count, day, decimal, share, short_day
from dashboards.manner import key, manner, say, say_n
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
        html.Section([html.H2(say("Shift by shift")), _shift_table(shown.tables["shifts"])], className="panel whole"),
    ]


def _range(view: View) -> str:
    if not (view.since and view.until):
        return ""
    told = key("{since} to {until}, {shift} shift") if view.shift else key("{since} to {until}")
    return say(told, since=day(view.since), until=day(view.until), shift=view.shift)


_KINDS = MappingProxyType(
    {
        "setup": key("setup"),
        "tooling": key("tooling"),
        "material": key("material"),
        "press": key("press"),
        "quality": key("quality"),
        "labour": key("labour"),
        "other": key("other"),
        "planned": key("planned stop"),
    }
)


def _kind(kind: str) -> str:
    return say(_KINDS.get(kind, kind)) if kind else UNKNOWN


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
    figure = hours_chart(shown.tables["hours"], shown.rated_per_hour, dark, manner().words)
    return _panel(say("Parts per hour"), ids.DIE_HOURS, figure, _hours_table(shown.tables["hours"]))


def _standing(shown: DieView, dark: bool) -> Any:
    reasons = shown.tables["reasons"]
    total = float(reasons["minutes"].sum())
    rows = pd.DataFrame(
        {
            say("Reason"): reasons["reason"],
            say("Kind"): [_kind(kind) for kind in reasons["kind"]],
            say("Minutes"): [decimal(minutes, 0) for minutes in reasons["minutes"]],
            say("Share"): [share(minutes / total, 0) for minutes in reasons["minutes"]],
            say("Stops"): [count(number) for number in reasons["count"]],
        }
    )
    beside = table(rows, (say("Reason"), say("Kind")), say("Standing time by reason, planned breaks left out"))
    return _panel(say("What the press stood for"), ids.DIE_STOPS, pareto_chart(reasons, dark, manner().words), beside)


def _strip(shown: DieView, dark: bool) -> Any:
    losses = shown.tables["losses"]
    rows = pd.DataFrame(
        {
            say("Where it went"): losses["label"],
            "kg": [decimal(kg) for kg in losses["kg"]],
            say("Share"): [share(part, 1) for part in losses["share"]],
        }
    )
    notes = []
    if shown.left_out:
        notes.append(
            say_n(
                shown.left_out,
                "{n} coil without a known weight is left out.",
                "{n} coils without a known weight are left out.",
            )
        )
    if shown.view.shift:
        notes.append(say("Coils count whole, whatever the shift."))
    beside = table(rows, (say("Where it went"),), say("Received = all parts below it, the difference with its sign"))
    figure = waterfall_chart(losses, dark, manner().words)
    return _panel(say("Where the strip went"), ids.DIE_STRIP, figure, beside, " ".join(notes))


def _scrap(shown: DieView, dark: bool) -> Any:
    causes = shown.tables["causes"]
    rows = pd.DataFrame(
        {
            say("Cause"): causes["label"],
            say("Rate"): [share(rate) for rate in causes["rate"]],
            say("95 % interval"): [
                between(low, high) or UNKNOWN for low, high in zip(causes["rate_low"], causes["rate_high"], strict=True)
            ],
            say("Rejected"): [count(number) for number in causes["rejected"]],
            say("Inspected"): [count(number) for number in causes["inspected"]],
            say("By"): [found_by(estimate) for estimate in causes["estimate"]],
        }
    )
    beside = table(rows, (say("Cause"), say("By")), say("Scrap by cause; a sample is an estimate"))
    return _panel(say("Scrap by cause"), ids.DIE_SCRAP, rates_chart(causes, dark, manner().words), beside)


def _hours_table(hours: pd.DataFrame) -> Any:
    sums = hours.groupby("hour_start", as_index=False)[["pieces", "good", "rejected", "running_s"]].sum()
    sums = sums.sort_values("hour_start", ascending=False)
    rate = sums["pieces"].astype(float) * 3600 / sums["running_s"].where(sums["running_s"] > 0)
    rows = pd.DataFrame(
        {
            say("Hour"): [f"{short_day(dt.date.fromisoformat(at[:10]))} {clock(at)}" for at in sums["hour_start"]],
            say("Pieces"): [count(value) for value in sums["pieces"]],
            say("Good"): [count(value) for value in sums["good"]],
            say("Rejected"): [count(value) for value in sums["rejected"]],
            say("Ran, min"): [decimal(value / 60, 0) for value in sums["running_s"]],
            say("Rate running"): [count(value) for value in rate],
        }
    )
    return table(rows, (say("Hour"),), say("Newest hour first"), "strokeledger figures hours --ledger LEDGER")


def _shift_table(rows: pd.DataFrame) -> Any:
    words = [say(name) for name in ("Date", "Shift", "Press", "By", "Longest reason")]
    return table(rows, words, say("Newest shift first"), "strokeledger figures shifts --ledger LEDGER")
