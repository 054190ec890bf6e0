"""The sheet on which a reason is given for stops: it opens over any page that has stops to tap."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from dashboards import ids
from dashboards.ledger.picks import Pick
from dashboards.parts.components import attributes
from dashboards.reason_sheet.reasons import OfferedReason
from dashboards.request.formats import clock, duration
from dashboards.request.locale import say, say_n
from monitor.charts.style import kind_of
from shared.calendar import Calendar
from shared.durations import SECOND_US


def sheet() -> Any:
    """The sheet, closed, what it last said, and the stores in which `assets/floor.js` puts what was tapped."""
    who = dcc.Input(
        id=ids.FLOOR_WHO, type="text", persistence=True, persistence_type="local", maxLength=80, debounce=False
    )
    return html.Div(
        [
            dcc.Store(id=ids.FLOOR_ACT),
            dcc.Store(id=ids.FLOOR_ASKED),
            dcc.Store(id=ids.FLOOR_ENTERED),
            html.Dialog(
                [
                    html.Div(id=ids.FLOOR_BODY, className="sheet-body"),
                    html.P(id=ids.FLOOR_UNANSWERED, className="unanswered", role="alert"),
                    html.Label([say("Who enters it (function, not name)"), who], className="who-enters"),
                    html.Button(say("Close"), className="close", **attributes(data_close="")),
                ],
                id=ids.FLOOR_SHEET,
                className="sheet",
                **attributes(aria_label=say("Reason of a stop")),
            ),
            html.Div(id=ids.FLOOR_TOLD, className="told", role="status"),
        ]
    )


def choose(
    heading: str, now: str, first: Sequence[OfferedReason], rest: Sequence[OfferedReason], page: str
) -> list[Any]:
    """Reasons for the stops picked: large ones to tap, the others behind a word; `now` is what stands there so far."""
    more = html.Details([html.Summary(say_n(len(rest), "{n} more reason", "{n} more reasons")), _tiles(rest)])
    split = html.A(say("Split, first-off, service, notes"), href=page, className="further")
    return [
        html.H2(heading),
        html.P(now, className="stands"),
        _tiles(first),
        *([more] if rest else []),
        split,
    ]


def overtaken(told: str, reason: OfferedReason) -> list[Any]:
    """What somebody else entered meanwhile, and the question whether to enter one's own all the same."""
    return [
        html.H2(say("Somebody was quicker")),
        html.P(told, className="stands", role="alert"),
        html.Div(
            [
                html.Button(
                    say("Enter “{reason}” all the same", reason=reason.name),
                    className="act",
                    **attributes(data_reason=reason.code),
                ),
                html.Button(say("Leave it as it is"), className="act quiet", **attributes(data_close="")),
            ],
            className="acts",
        ),
    ]


def refused(told: str) -> list[Any]:
    """Why nothing was entered."""
    return [html.H2(say("Nothing was entered")), html.P(told, className="stands", role="alert")]


def entered(told: str, load_id: int) -> list[Any]:
    """What was entered, with a way back."""
    return [html.Span(told), html.Button(say("Undo"), className="act", **attributes(data_undo=str(load_id)))]


def heading(picks: Sequence[Pick], calendar: Calendar) -> str:
    """Which stops these are: one by its times, several by their number and presses."""
    presses = ", ".join(dict.fromkeys(pick.press for pick in picks))
    if len(picks) > 1:
        return f"{presses}: {say_n(len(picks), '{n} stop', '{n} stops')}"
    return f"{presses}: {span(picks[0], calendar)}"


def span(pick: Pick, calendar: Calendar) -> str:
    """A stop by its times: "10:02 to 10:20 (18 min)", "since 10:02"."""
    start = clock(pick.start_us, calendar)
    if pick.end_us is None:
        return say("since {time}", time=start)
    lasted = duration((pick.end_us - pick.start_us) / SECOND_US)
    return f"{say('{low} to {high}', low=start, high=clock(pick.end_us, calendar))} ({lasted})"


def _tiles(reasons: Sequence[OfferedReason]) -> Any:
    return html.Ul([html.Li(_tile(reason)) for reason in reasons], className="tiles")


def _tile(reason: OfferedReason) -> Any:
    swatch = html.I(className=f"swatch kind-{kind_of(reason.kind)}", **attributes(aria_hidden="true"))
    code = html.Small(reason.code if reason.code != reason.name else "")
    return html.Button([swatch, html.Span(reason.name), code], **attributes(data_reason=reason.code))
