"""The trace page below its search: totals, the drawing with its table, and the holds."""

from __future__ import annotations

from typing import Any

import pandas as pd
from dash import dcc, html

from dashboards.holds.view import hold_places_html, holds_html
from dashboards.pages.trace import TRACE_FLOW
from dashboards.pages.trace.model import TraceView
from dashboards.parts.coil_words import STATES, heavy
from dashboards.parts.components import lack, number
from dashboards.parts.contradictions import mark_html
from dashboards.parts.download import download_links
from dashboards.parts.panel import graph, panel
from dashboards.parts.tables import table
from dashboards.request.formats import UNKNOWN, count
from dashboards.request.locale import locale, say, say_n
from dashboards.request.url import View
from monitor.charts.flow import flow_chart


def trace_html(shown: TraceView, dark: bool, done: str = "") -> list[Any]:
    """The page below the search, or the sentence that says what is lacking."""
    said = [html.P(done, className="summary", role="status")] if done else []
    held = holds_html(shown.holds, shown.view.scope, shown.view.value)
    if shown.lack:
        return [*said, lack(shown.lack), *([_opened(shown)] if len(shown.opened) else []), held]
    title = f"{say(shown.view.scope)} {shown.view.value}"
    notes = [html.P(shown.note)] if shown.note else []
    return [
        *said,
        html.Header([html.H1(title), *notes, *_narrower(shown), *mark_html(shown.contradicted)], className="head"),
        *hold_places_html(shown.hold_places),
        html.Dl([number(total) for total in shown.totals], className="numbers totals"),
        *([_flow(shown, dark)] if len(shown.rows) else []),
        *([_coils(shown.coils, shown.view)] if len(shown.coils) else []),
        held,
    ]


def _narrower(shown: TraceView) -> list[Any]:
    """The lots of a heat, which may be a whole ladle: hold the narrower thing first."""
    if not shown.narrower:
        return []
    links: list[Any] = []
    for lot in shown.narrower:
        links += [dcc.Link(lot, href=f"/trace{View(scope='lot', value=lot).search}"), " "]
    told = say("A heat can be a whole ladle. Look at its lots first, and hold the narrower thing where that is enough:")
    return [html.P([told, " ", *links], className="narrower")]


def _coils(coils: pd.DataFrame, view: View) -> Any:
    """The coils under a hold: where each is and what is left of it."""
    shown = pd.DataFrame(
        {
            say("Coil"): coils["coil_id"],
            say("Lot"): coils["lot"],
            say("Heat"): coils["heat"],
            say("Where it is"): [
                say(STATES[state], press=press) for state, press in zip(coils["state"], coils["press_id"], strict=True)
            ],
            say("Left"): [heavy(kg) for kg in coils["kg"]],
        }
    )
    words = [say(name) for name in ("Coil", "Lot", "Heat", "Where it is")]
    listed = table(shown, words, "", "strokeledger hold list HOLD --coils")
    head = html.Div([html.H2(say("Coils under this hold")), download_links("hold_coils", view)], className="panel-head")
    return html.Section([head, listed], className="panel narrow")


def _flow(shown: TraceView, dark: bool) -> Any:
    figure = flow_chart(shown.links, dark, locale().words)
    sums = {total.label: total.value for total in shown.totals}
    flow = graph(TRACE_FLOW, figure, ", ".join(f"{label}: {value}" for label, value in sums.items()))
    legend = say(
        "From left to right: coils, reels, containers, shipments. Pale: pieces made between two counter readings "
        "around a change, or rejected without saying of which coil; they may be of the coil next to it. The column ± "
        "counts them; the way of the strip through the die is reckoned in and adds nothing to it."
    )
    drawn = html.Div([html.Div(flow, className="flow", tabIndex=0), html.P(legend, className="note")])
    takes = download_links("trace", shown.view, TRACE_FLOW)
    return html.Div(
        panel(say("From coil to customer"), drawn, _table(shown.rows), takes), className="whole wide-table flows"
    )


def _opened(shown: TraceView) -> Any:
    """What is in the containers opened in a range, where no label is asked for."""
    rows = shown.opened
    listed = pd.DataFrame(
        {
            say("Container"): rows["container_id"],
            say("Part"): rows["part_no"],
            say("Coil"): [coil or say("not known") for coil in rows["coil_id"]],
            say("Lot"): [lot or UNKNOWN for lot in rows["lot"]],
            say("Heat"): [heat or UNKNOWN for heat in rows["heat"]],
            say("Pieces"): [count(pieces) for pieces in rows["pieces"]],
            say("Shipment"): [sent or say("on the floor") for sent in rows["shipment_id"]],
            say("Customer"): rows["customer"],
        }
    )
    words = [name for name in listed.columns if name != say("Pieces")]
    title = say_n(rows["container_id"].nunique(), "{n} container opened", "{n} containers opened")
    head = html.Div([html.H2(title), download_links("trace", shown.view)], className="panel-head")
    boxes = table(listed, words, say("Several coils with ; between them: one of these"), "strokeledger figures trace")
    return html.Section([head, boxes], className="panel whole")


def _doubt(row: dict[Any, Any]) -> str:
    """By how many pieces a row is uncertain; those of no one known coil are so as a whole."""
    if len(row["coils"]) != 1:
        return UNKNOWN
    return count(max(0, row["pieces"] - row["sure_pieces"]))


def _counts(rows: pd.DataFrame, name: str) -> list[str]:
    is_known = (rows["pieces"] != 0) | (rows["here"] != 0)
    return [count(pieces) if known else UNKNOWN for pieces, known in zip(rows[name], is_known, strict=True)]


def _table(rows: pd.DataFrame) -> Any:
    is_some = (rows["pieces"] != 0) | (rows["here"] != 0)
    # Of a container under hold of which nobody knows how much is in it no count is shown.
    rows = rows[is_some | ~rows["container_id"].isin(rows.loc[is_some, "container_id"])]
    shown = pd.DataFrame(
        {
            say("Container"): rows["container_id"],
            say("Coil"): [coil or say("not known") for coil in rows["coil_id"]],
            say("Lot"): [lot or UNKNOWN for lot in rows["lot"]],
            say("Heat"): [heat or UNKNOWN for heat in rows["heat"]],
            say("Pieces"): _counts(rows, "pieces"),
            say("Certain"): _counts(rows, "sure_pieces"),
            "±": [_doubt(row) for row in rows.to_dict("records")],
            say("Still in it"): _counts(rows, "here"),
            say("Shipment"): [sent or say("on the floor") for sent in rows["shipment_id"]],
            say("Customer"): rows["customer"],
            say("By way of"): [", ".join(reels) or UNKNOWN for reels in rows["came_by"]],
        }
    )
    words = [say(name) for name in ("Container", "Coil", "Lot", "Heat", "Shipment", "Customer", "By way of")]
    return table(shown, words, say("Several coils with ; between them: one of these"), "strokeledger figures trace")
