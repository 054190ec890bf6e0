"""Holds on a page: where they apply, each with its tags and history, and the forms to place one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from dashboards.holds import (
    TRACE_FROM,
    TRACE_HELD,
    TRACE_LIFT,
    TRACE_PLACE,
    TRACE_STRETCH,
    TRACE_TAGS,
    TRACE_TO,
    TRACE_WHO,
    TRACE_WHY,
)
from dashboards.holds.model import HoldInWords
from dashboards.parts.components import attributes
from dashboards.parts.download import download_links
from dashboards.request.locale import say
from dashboards.request.url import View

HELD_SCOPES = ("container", "coil", "lot", "heat")


def hold_places_html(words: Sequence[str]) -> list[Any]:
    """Where holds apply, loud, one line each; nothing where none does."""
    if not words:
        return []
    items = [html.Li([html.B(say("HELD")), html.Span(line)]) for line in words]
    listed = html.Ul(items, className="holds", **attributes(aria_label=say("Where holds bite")))
    return [html.Div(listed, className="hold-places", role="alert")]


def holds_html(lines: Sequence[HoldInWords], scope: str, value: str) -> Any:
    """Holds that bear on what is shown, with their history, and the form to place or lift one."""
    listed = html.Ul([_line(line) for line in lines], className="holds")
    form = [
        html.Label([say("Reason, or how a hold ended"), dcc.Input(id=TRACE_WHY, type="text", maxLength=300)]),
        html.Label([say("Your name"), dcc.Input(id=TRACE_WHO, type="text", maxLength=80)]),
    ]
    place = html.Button("", id=TRACE_PLACE, className="act", hidden=True)
    if scope in HELD_SCOPES and value:
        what = f"{say(scope)} {value}"
        place = html.Button(say("Place a hold on {what}", what=what), id=TRACE_PLACE, className="act")
    return html.Section(
        [
            html.Div([html.H2(say("Holds")), download_links("holds", View())], className="panel-head"),
            listed if lines else html.P(say("No hold stands on it."), className="note"),
            html.Div([*form, place], className="pickers"),
            _stretch(),
        ],
        className="panel",
    )


def _line(line: HoldInWords) -> Any:
    """One hold: a mark, what and why, who and when; buttons while it stands."""
    words = html.Span(
        [html.Strong(line.what), f": {line.reason}. {line.placed}", f"; {line.ended}" if line.ended else ""]
    )
    link = dcc.Link(line.hold_id, href=f"/trace{View(scope='hold', value=line.hold_id).search}")
    if line.ended:
        return html.Li([html.B(say("LIFTED"), className="over"), link, words])
    lift, tags = ({"type": name, "hold": line.hold_id} for name in (TRACE_LIFT, TRACE_TAGS))
    buttons = [
        html.Button(say("Tags (PDF)"), id=tags, className="act", **_label("Tags of hold {hold}", line)),
        html.Button(say("Lift"), id=lift, className="act", **_label("Lift hold {hold}", line)),
    ]
    return html.Li([html.B(say("HELD")), link, words, *buttons])


def _label(words: str, line: HoldInWords) -> Any:
    return attributes(aria_label=say(words, hold=line.hold_id))


def _stretch() -> Any:
    """The form for what a die or press made over some time; reason and name stand above."""
    fields = [
        html.Label([say("Die or press"), dcc.Input(id=TRACE_HELD, type="text", maxLength=80)]),
        html.Label([say("Made from"), dcc.Input(id=TRACE_FROM, type="text", placeholder="2026-11-02 06:00")]),
        html.Label([say("up to"), dcc.Input(id=TRACE_TO, type="text", placeholder="2026-11-02 14:00")]),
        html.Button(say("Hold this stretch"), id=TRACE_STRETCH, className="act"),
    ]
    told = say("Hold what a die or press made from one moment to another")
    return html.Details([html.Summary(told), html.Div(fields, className="pickers")], className="stretch")
