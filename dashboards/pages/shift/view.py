"""The page of a press in a shift: its stops as rows to tap and tick, forms for the rest, and the history."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from dashboards.pages.shift import (
    SHIFT_AFTER,
    SHIFT_AT,
    SHIFT_BEFORE,
    SHIFT_NOTE,
    SHIFT_OFF,
    SHIFT_OFF_AT,
    SHIFT_REMARK,
    SHIFT_REMOVED,
    SHIFT_SERVE,
    SHIFT_SPLIT,
    SHIFT_STATION,
    SHIFT_STOP,
    SHIFT_WORK,
    SHIFT_WORK_AT,
    SHIFT_WRITE,
)
from dashboards.pages.shift.model import HistoryLine, ShiftView, Stop
from dashboards.parts.components import attributes, lack, list_words
from dashboards.parts.contradictions import mark_html
from dashboards.parts.download import download_links
from dashboards.reason_sheet.reasons import OfferedReason
from dashboards.request.formats import size_unit
from dashboards.request.locale import say, say_n
from dashboards.request.url import View
from monitor.charts.style import kind_of


def head_html(shown: ShiftView) -> Any:
    """Title and the ways to other shifts and to the board."""
    links = []
    if shown.earlier:
        links.append(dcc.Link(say("← earlier shift"), href=f"/shift{shown.earlier.search}"))
    if shown.later:
        links.append(dcc.Link(say("later shift →"), href=f"/shift{shown.later.search}"))
    board = View(date=shown.view.date, shift=shown.view.shift)
    links.append(dcc.Link(say("Hand-over"), href=f"/handover{board.search}"))
    links.append(dcc.Link(say("Board"), href="/"))
    nav = html.Nav(links, **attributes(aria_label=say("Shifts")))
    return html.Header([html.H1(shown.title), nav, *mark_html(shown.contradicted)], className="head")


def stops_head_html(shown: ShiftView) -> Any:
    """The heading of the stops, with their rows to take away."""
    view = shown.view.but(since=shown.view.date, until=shown.view.date)
    return html.Div([html.H2(say("Stops")), download_links("stops", view)], className="panel-head")


def stops_html(shown: ShiftView) -> list[Any]:
    """The stops of the shift; each row is tapped to say why, or ticked to say it for several at once."""
    if shown.lack:
        return [lack(shown.lack)]
    dark = [html.P([html.I(className="swatch unseen"), " ", words], className="note") for words in shown.unseen]
    if not shown.stops:
        none = say("No stop was seen in this shift.") if dark else say("The press did not stand in this shift.")
        return [*dark, html.P(none, className="note")]
    bare = shown.bare
    told = say_n(bare, "{n} stop has no reason yet.", "{n} stops have no reason yet.")
    button = html.Button(say("One reason for all ticked"), className="act", disabled=True, **attributes(data_ticked=""))
    return [
        *dark,
        html.Div([html.P(told), button], className="tick-bar"),
        html.Ul([_stop(stop) for stop in shown.stops], className="stop-rows"),
    ]


def forms_html(shown: ShiftView, reasons: tuple[OfferedReason, ...]) -> list[Any]:
    """Forms to split a stop, enter a first-off and work on the die, and to write a note."""
    return [_split(shown, reasons), _first_off(shown), _service(shown), _note()]


def history_html(lines: tuple[HistoryLine, ...]) -> list[Any]:
    """What was entered about this press and shift, newest first, each with its way back."""
    if not lines:
        return [html.P(say("Nothing was entered by hand about this shift."), className="note")]
    return [html.Ul([_line(line) for line in lines], className="entries")]


def _stop(stop: Stop) -> Any:
    swatch = html.I(className=f"swatch kind-{kind_of(stop.kind)}", **attributes(aria_hidden="true"))
    words = [html.B(stop.words), html.Span(stop.lasted, className="lasted"), swatch, html.Span(stop.reason)]
    return html.Li(
        [_tick(stop), html.Button(words, **attributes(data_stop=stop.packed))], className="bare" if stop.bare else ""
    )


def _tick(stop: Stop) -> Any:
    """A box to tick that the script of the page keeps: a component a stop would take the browser seconds."""
    told = attributes(data_tick=stop.packed, aria_label=say("Tick {stop}", stop=stop.words), aria_checked="false")
    return html.Button("", role="checkbox", className="tick-box", **told)


def _split(shown: ShiftView, reasons: tuple[OfferedReason, ...]) -> Any:
    stops = [{"label": f"{stop.words} {stop.reason}", "value": stop.packed} for stop in shown.stops]
    options = [{"label": reason.name, "value": reason.code} for reason in reasons]
    keep, told = say("as it is"), list_words()
    return _form(
        say("Split a stop"),
        [
            html.Label([say("Stop"), dcc.Dropdown(stops, id=SHIFT_STOP, clearable=False, labels=told)]),
            html.Label(
                [
                    say("At (hh:mm)"),
                    dcc.Input(id=SHIFT_AT, type="text", inputMode="numeric", maxLength=5, placeholder="00:00"),
                ]
            ),
            html.Label([say("Before it"), dcc.Dropdown(options, id=SHIFT_BEFORE, placeholder=keep, labels=told)]),
            html.Label([say("From then on"), dcc.Dropdown(options, id=SHIFT_AFTER, placeholder=keep, labels=told)]),
        ],
        SHIFT_SPLIT,
        say("Split"),
    )


def _first_off(shown: ShiftView) -> Any:
    at = dcc.Input(id=SHIFT_OFF_AT, type="text", inputMode="numeric", maxLength=5, value=shown.clock)
    parts = [html.Label([say("Good since (hh:mm)"), at])]
    return _form(say("First-off released"), parts, SHIFT_OFF, say("Enter first-off"))


def _service(shown: ShiftView) -> Any:
    removed = dcc.Input(id=SHIFT_REMOVED, type="number", min=0, step="any")
    work = [
        {"label": say("sharpened"), "value": "sharpen"},
        {"label": say("repaired"), "value": "repair"},
        {"label": say("replaced"), "value": "replace"},
        {"label": say("adjusted"), "value": "adjust"},
    ]
    return _form(
        say("Work on die {die}", die=shown.die_id or "–"),
        [
            html.Label([say("Work"), dcc.Dropdown(work, "sharpen", id=SHIFT_WORK, clearable=False, searchable=False)]),
            html.Label([say("Station (empty = all that cut)"), dcc.Input(id=SHIFT_STATION, type="number", min=1)]),
            html.Label([say("Removed, {unit}", unit=size_unit()), removed]),
            html.Label(
                [
                    say("Done at (hh:mm)"),
                    dcc.Input(id=SHIFT_WORK_AT, type="text", inputMode="numeric", maxLength=5, value=shown.clock),
                ]
            ),
            html.Label([say("Remark"), dcc.Input(id=SHIFT_REMARK, type="text", maxLength=400)]),
        ],
        SHIFT_SERVE,
        say("Enter work"),
    )


def _note() -> Any:
    note = dcc.Textarea(id=SHIFT_NOTE, maxLength=500, rows=3)
    label = html.Label([say("For those who come after; no names of people"), note], className="wide")
    return _form(say("Note on this shift"), [label], SHIFT_WRITE, say("Write note"))


def _form(title: str, parts: list[Any], button: str, word: str) -> Any:
    return html.Section(
        [html.H2(title), html.Div([*parts, html.Button(word, id=button, className="act")], className="pickers")],
        className="panel entry",
    )


def _line(line: HistoryLine) -> Any:
    parts: list[Any] = [html.B(line.head), html.Ul([html.Li(what) for what in line.what])]
    if line.undone:
        parts.append(html.Small(say("taken back since")))
    else:
        parts.append(html.Button(say("Undo"), className="act quiet", **attributes(data_undo=str(line.load_id))))
    return html.Li(parts, className="undone" if line.undone else "")
