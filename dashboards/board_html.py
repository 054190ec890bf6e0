"""The board as plain HTML: tracks placed in per cent, so it is as sharp on a wall screen as on a phone."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from dashboards.board_model import Board, PressRow, Why
from dashboards.elements import attributes, lack, number
from dashboards.formats import count, moment
from dashboards.manner import say
from dashboards.press_rows import State
from dashboards.ribbon import Hour, Span
from dashboards.url import View
from monitor.charts.style import kind_of


def board_html(board: Board, view: View) -> list[Any]:
    """The whole board: head, summary, and a row a press, or the sentence that says what is lacking."""
    parts = [_head(board, view)]
    if board.lack:
        return [*parts, lack(board.lack)]
    if board.summary:
        first, *rest = board.summary
        parts.append(html.P([f"{first} ", html.Strong(" ".join(rest))], className="summary"))
    return [*parts, html.Div([_press(row) for row in board.rows], className="presses")]


def _head(board: Board, view: View) -> Any:
    newest = say("Readings up to {newest}", newest=moment(board.newest)) if board.newest else ""
    return html.Header(
        [
            html.H1(board.title or say("Board")),
            html.P([newest, html.Span(className="age", **attributes(data_newest=board.newest if board.live else ""))]),
            html.Nav(_shift_links(board, view), **attributes(aria_label=say("Shifts"))),
        ],
        className="head",
    )


def _shift_links(board: Board, view: View) -> list[Any]:
    links = []
    if board.earlier:
        links.append(dcc.Link(say("← earlier shift"), href=f"/{board.earlier.search}"))
    if board.later:
        links.append(dcc.Link(say("later shift →"), href=f"/{board.later.search}"))
    if not board.live:
        links.append(dcc.Link(say("newest"), href=f"/{view.but(date=None, shift='').search}"))
    if view.press:
        links.append(dcc.Link(say("all presses"), href=f"/{view.but(press='').search}"))
    return links


def _press(row: PressRow) -> Any:
    time = [
        html.Div([_span(span, "callout", span.word, span.note) for span in row.words], className="track callouts"),
        html.Div([_span(span, "mark") for span in row.track], className="track ribbon"),
        html.Div([*[_span(s, "piece", s.word) for s in row.strip], *_rejects(row.hours)], className="track strip"),
        html.Div([_hour(hour) for hour in row.hours], className="track hours"),
    ]
    if 0 < row.now < 100:
        time.append(html.Div(className="now", style={"left": f"{row.now}%"}))
    return html.Article(
        [
            _who(row),
            html.Div([html.Div(time, className="time"), _whys(row.why)], className="tracks"),
            html.Dl([number(shown) for shown in row.numbers], className="numbers"),
        ],
        className=f"press is-{row.state.look}",
    )


def _who(row: PressRow) -> Any:
    die = dcc.Link(row.die_id, href=f"/die{View(die=row.die_id).search}") if row.die_id else say("no die")
    return html.Div(
        [
            html.H2([html.Span(row.press_id), html.Small(row.name, title=row.name)]),
            *_state(row.state),
            html.P([die, f" {row.die_name}"], className="what", title=row.die_name),
            html.P(row.part_no, className="what", title=row.part_no),
            *([html.P(row.shift, className="own-shift")] if row.shift else []),
        ],
        className="who",
    )


def _state(state: State) -> list[Any]:
    if not state.words:
        return []
    glyph = html.I(className="glyph", **attributes(aria_hidden="true"))
    return [html.Div([glyph, html.P([html.B(state.words), html.Span(state.detail)])], className="state")]


def _span(span: Span, kind: str, word: str = "", note: str = "") -> Any:
    return html.Div(
        [html.Span([word, html.Small(note) if note else ""])] if word else None,
        className=f"{kind} {span.look}",
        title=span.title,
        style={"left": f"{span.left}%", "width": f"{span.width}%"},
    )


def _rejects(hours: tuple[Hour, ...]) -> list[Any]:
    """A notch in the edge of the strip for each hour with rejected pieces."""
    return [
        html.Div(
            className="reject",
            title=say(
                "{rejected} pieces rejected of {pieces} made in this hour",
                rejected=count(hour.rejected),
                pieces=count(hour.pieces),
            ),
            style={"left": f"{hour.left + hour.width / 2:.3f}%"},
        )
        for hour in hours
        if hour.rejected
    ]


def _hour(hour: Hour) -> Any:
    made = html.B(count(hour.pieces)) if hour.pieces is not None else html.B()
    bad = html.Em(count(hour.rejected)) if hour.rejected else ""
    return html.Div(
        [html.Small([hour.label, bad]), made],
        className="hour",
        style={"left": f"{hour.left}%", "width": f"{hour.width}%"},
    )


def _whys(whys: tuple[Why, ...]) -> Any:
    items = [
        html.Li(
            [
                html.I(className=f"swatch kind-{kind_of(why.look)}", **attributes(aria_hidden="true")),
                html.Span(why.reason, className="reason"),
                html.B(why.minutes),
                html.Small(f"{why.count}×"),
            ]
        )
        for why in whys
    ]
    return html.Ul(items, className="why", **attributes(aria_label=say("Standing time by reason")))
