"""The trace page below its search: totals, the drawing with its table, and the holds."""

from __future__ import annotations

from typing import Any

import pandas as pd
from dash import dcc, html

from dashboards import ids
from dashboards.elements import attributes, lack, number
from dashboards.formats import UNKNOWN, count
from dashboards.manner import manner, say
from dashboards.tables import table
from dashboards.trace_model import TraceView
from monitor.charts import flow_chart

HELD_SCOPES = ("container", "coil", "lot", "heat")


def trace_html(shown: TraceView, dark: bool, done: str = "") -> list[Any]:
    """The page below the search, or the sentence that says what is lacking."""
    said = [html.P(done, className="summary", role="status")] if done else []
    if shown.lack:
        return [*said, lack(shown.lack), *([_holds(shown)] if shown.view.scope in HELD_SCOPES else [])]
    title = f"{say(shown.view.scope)} {shown.view.value}"
    notes = [html.P(shown.note)] if shown.note else []
    return [
        *said,
        html.Header([html.H1(title), *notes], className="head"),
        html.Dl([number(total) for total in shown.totals], className="numbers totals"),
        _flow(shown, dark),
        *([_holds(shown)] if shown.view.scope in HELD_SCOPES else []),
    ]


def _flow(shown: TraceView, dark: bool) -> Any:
    figure = flow_chart(shown.links, dark, manner().words)
    height = {"height": f"{figure.layout.height}px"}
    graph = dcc.Graph(id=ids.TRACE_FLOW, figure=figure, config={"displayModeBar": False}, responsive=True, style=height)
    legend = say(
        "From left to right: coils, reels, containers, shipments. Pale: pieces made between two counter readings "
        "around a change, or rejected without saying of which coil; they may be of the coil next to it."
    )
    drawn = html.Div(
        [html.Div(graph, className="flow", tabIndex=0), html.P(legend, className="note")], className="chart"
    )
    return html.Section(
        [html.H2(say("From coil to customer")), html.Div([drawn, _table(shown.rows)], className="pair")],
        className="panel",
    )


def _table(rows: pd.DataFrame) -> Any:
    rows = rows[(rows["pieces"] != 0) | (rows["here"] != 0)]
    shown = pd.DataFrame(
        {
            say("Container"): rows["container_id"],
            say("Coil"): [coil or say("not known") for coil in rows["coil_id"]],
            say("Lot"): [lot or UNKNOWN for lot in rows["lot"]],
            say("Heat"): [heat or UNKNOWN for heat in rows["heat"]],
            say("Pieces"): [count(pieces) for pieces in rows["pieces"]],
            say("Certain"): [count(pieces) for pieces in rows["sure_pieces"]],
            say("Still in it"): [count(pieces) for pieces in rows["here"]],
            say("Shipment"): [sent or say("on the floor") for sent in rows["shipment_id"]],
            say("Customer"): rows["customer"],
            say("By way of"): [reels.replace(";", ", ") or UNKNOWN for reels in rows["reels"]],
        }
    )
    words = [say(name) for name in ("Container", "Coil", "Lot", "Heat", "Shipment", "Customer", "By way of")]
    return table(shown, words, say("Several coils with ; between them: one of these"), "strokeledger figures trace")


def _holds(shown: TraceView) -> Any:
    what = f"{say(shown.view.scope)} {shown.view.value}"
    held = [_held(row) for row in shown.holds.to_dict("records")]
    standing = html.Ul(held, className="holds") if held else html.P(say("No hold stands on it."), className="note")
    form = [
        html.Label([say("Reason, or how a hold ended"), dcc.Input(id=ids.TRACE_WHY, type="text", maxLength=300)]),
        html.Label([say("Your name"), dcc.Input(id=ids.TRACE_WHO, type="text", maxLength=80)]),
        html.Button(say("Place a hold on {what}", what=what), id=ids.TRACE_PLACE, className="act"),
    ]
    return html.Section([html.H2(say("Holds")), standing, html.Div(form, className="pickers")], className="panel")


def _held(row: dict[Any, Any]) -> Any:
    what = f"{say(row['scope'])} {row['value']}"
    words = say("{hold} on {what}: {reason}", hold=row["hold_id"], what=what, reason=row["reason"])
    lift = {"type": ids.TRACE_LIFT, "hold": row["hold_id"]}
    label = attributes(aria_label=say("Lift hold {hold}", hold=row["hold_id"]))
    return html.Li([html.B(say("HELD")), html.Span(words), html.Button(say("Lift"), id=lift, className="act", **label)])
