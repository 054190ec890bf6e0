"""The board as plain HTML: tracks placed in per cent, so it is as sharp on a wall screen as on a phone."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from dashboards.pages.board.model import Board, NewestReading, PressRow
from dashboards.pages.board.needs import BoardAlarm
from dashboards.pages.board.stop_reasons import ReasonTime
from dashboards.parts.components import attributes, lack, number
from dashboards.parts.contradictions import mark_html
from dashboards.parts.download import download_links
from dashboards.parts.ribbon import Hour, Span
from dashboards.request.formats import count
from dashboards.request.locale import say
from dashboards.request.url import View
from monitor.charts.style import kind_of

SHOWN_NEEDS = 3
"""Unexplained stops shown on the board itself; the others are on the page of the press."""


def board_html(board: Board, view: View) -> list[Any]:
    """The whole board: head, summary, and a row a press, or the sentence that says what is lacking."""
    parts = [_head(board, view)]
    if board.lack:
        return [*parts, lack(board.lack)]
    if board.summary:
        first, *rest = board.summary
        parts.append(html.P([f"{first} ", html.Strong(" ".join(rest))], className="summary"))
    if board.alarms:
        parts.append(_alarms(board.alarms))
    parts.append(html.Div([_press(row) for row in board.rows], className="presses"))
    return parts if view.wall or board.figures_view is None else [*parts, _downloads(board.figures_view)]


def _downloads(view: View) -> Any:
    """The figures of the shift to take away."""
    groups = [[html.Span(name), download_links(name, view)] for name in ("shifts", "hours", "stops", "coils", "scrap")]
    return html.Footer([html.Div(group, className="taken") for group in groups], className="taken-all")


def _alarms(called: tuple[BoardAlarm, ...]) -> Any:
    """Spikes of scrap that were called in the shift, each a way to the bench."""
    items = [html.Li(dcc.Link(one.words, href=one.href)) for one in called]
    return html.Div([html.B(say("Scrap alarm")), html.Ul(items)], className="alarms", role="alert")


def _head(board: Board, view: View) -> Any:
    newest = say("Readings up to {newest}", newest=board.newest.words) if board.newest.at else ""
    shown = board.newest if board.live else NewestReading()
    told = shown.at
    silence = say("No reading of any press for {time}: what you see is as of {clock}.", time="{time}", clock="{clock}")
    as_of = {"data_clock": shown.clock, "data_moment": shown.words}
    return html.Header(
        [
            html.H1(board.title or say("Board")),
            html.Span(className="clock", **attributes(data_zone=board.zone, aria_hidden="true")),
            html.P([newest, html.Span(className="age", **attributes(data_newest=told))]),
            html.P(className="stale", role="alert", **attributes(data_since=told, data_words=silence, **as_of)),
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
        html.Div(
            [*[_span(s, "piece", s.word) for s in row.strip], *[_reject(s) for s in row.rejects]],
            className="track strip",
        ),
        html.Div([_hour(hour) for hour in row.hours], className="track hours"),
    ]
    if 0 < row.now < 100:
        time.append(html.Div(className="now", style={"left": f"{row.now}%"}))
    return html.Article(
        [
            _who(row),
            html.Div([html.Div(time, className="time"), *_needs(row), _whys(row.why)], className="tracks"),
            html.Dl([number(shown) for shown in row.numbers], className="numbers"),
        ],
        className=f"press is-{row.state.look}",
        **attributes(data_press=row.press_id),
    )


def _who(row: PressRow) -> Any:
    die = dcc.Link(row.die_id, href=f"/die{View(die=row.die_id).search}") if row.die_id else say("no die")
    return html.Div(
        [
            html.H2([dcc.Link(row.press_id, href=row.page, title=row.press_id), html.Small(row.name, title=row.name)]),
            *_state(row),
            *([html.P(row.held, className="held-strip")] if row.held else []),
            *mark_html(row.contradicted, short=True),
            html.P([die, f" {row.die_name}"], className="what", title=row.die_name),
            html.P(row.part_no, className="what", title=row.part_no),
            *([html.P(row.shift, className="own-shift")] if row.shift else []),
        ],
        className="who",
    )


def _state(row: PressRow) -> list[Any]:
    """How the press stands; while it stands, its state is what is tapped to say why."""
    state = row.state
    if not state.words:
        return []
    glyph = html.I(className="glyph", **attributes(aria_hidden="true"))
    words: Any = html.B(state.words)
    if state.look == "silent":
        told = say("Counter silent for {time}", time="{time}")
        words = html.B(state.words, className="since", **attributes(data_since=row.seen, data_words=told))
    detail = html.Span([f"{state.detail} ", html.Em(say("Give a reason")) if row.open_stop else ""])
    if row.open_stop:
        picked = attributes(data_stop=row.open_stop)
        return [html.Button([glyph, html.Span([words, detail])], className="state", **picked)]
    return [html.Div([glyph, html.P([words, detail])], className="state")]


def _needs(row: PressRow) -> list[Any]:
    """Stops that nobody has explained, each to be tapped; the rest on the page of the press."""
    if not row.needs:
        return []
    items: list[Any] = [
        html.Li(html.Button(need.words, **attributes(data_stop=need.pick))) for need in row.needs[:SHOWN_NEEDS]
    ]
    left = row.bare - min(len(row.needs), SHOWN_NEEDS)
    if left > 0:
        items.append(html.Li(dcc.Link(say("{n} more", n=left), href=row.page)))
    return [html.Div([html.Span(say("Needs a reason")), html.Ul(items)], className="needs")]


def _span(span: Span, kind: str, word: str = "", note: str = "") -> Any:
    picked = {"data_stop": span.pick} if span.pick else {}
    return html.Div(
        [html.Span([word, html.Small(note) if note else ""])] if word else None,
        className=f"{kind} {span.look}",
        title=span.title,
        style={"left": f"{span.left}%", "width": f"{span.width}%"},
        **attributes(**picked),
    )


def _reject(span: Span) -> Any:
    """A notch in the edge of the strip over the stretch in which rejects were found."""
    style = {"left": f"{span.left}%", "width": f"{span.width}%"}
    return html.Div(html.I(), className="reject", title=span.title, style=style)


def _hour(hour: Hour) -> Any:
    made = html.B(count(hour.pieces)) if hour.pieces is not None else html.B()
    bad = html.Em(count(hour.rejected)) if hour.rejected else ""
    return html.Div(
        [html.Small([hour.label, bad]), made],
        className="hour",
        style={"left": f"{hour.left}%", "width": f"{hour.width}%"},
    )


def _look(why: ReasonTime) -> str:
    return why.look if why.look == "unseen" else f"kind-{kind_of(why.look)}"


def _whys(whys: tuple[ReasonTime, ...]) -> Any:
    items = [
        html.Li(
            [
                html.I(className=f"swatch {_look(why)}", **attributes(aria_hidden="true")),
                html.Span(why.reason, className="reason"),
                html.B(why.minutes),
                html.Small(f"{why.count}×"),
            ]
        )
        for why in whys
    ]
    return html.Ul(items, className="why", **attributes(aria_label=say("Standing time by reason")))
