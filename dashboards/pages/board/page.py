"""The board page: a row a press for the shift that runs, or for one chosen in the address."""

from __future__ import annotations

from functools import partial
from typing import Any

from dash import Dash, Input, Output, State, dcc, html
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.ledger.service import LedgerService
from dashboards.ledger.version import LedgerVersion
from dashboards.pages.board import BOARD_BODY, BOARD_STAMP, BOARD_TICK, BOARD_URL
from dashboards.pages.board.model import load_board
from dashboards.pages.board.view import board_html
from dashboards.parts.components import draw_cached, failure
from dashboards.parts.page import Page
from dashboards.reason_sheet.view import sheet
from dashboards.request.locale import key
from dashboards.request.url import View

REFRESH_MS = 5_000


def layout(reading: LedgerVersion, view: View) -> Any:
    """The board as it is now, and the clock that asks for a newer one."""
    return html.Div(
        [
            dcc.Location(id=BOARD_URL, refresh="callback-nav"),
            dcc.Interval(id=BOARD_TICK, interval=REFRESH_MS),
            dcc.Store(id=BOARD_STAMP, data=_stamp(reading, view)),
            html.Div(_board(reading, view), id=BOARD_BODY, className="board wall" if view.wall else "board"),
            sheet(),
        ]
    )


def refresh(
    service: LedgerService, _tick: int | None, search: str | None, _entered: Any, stamp: str | None
) -> tuple[list[Any], str]:
    """A newer board, or nothing at all while neither the ledger nor the address has changed."""
    view, reading = View.parse(search), service.read()
    now = _stamp(reading, view)
    if now == stamp:
        raise PreventUpdate
    return _board(reading, view), now


def failed(error: Exception) -> tuple[list[Any], str]:
    """What stands in place of the board when it cannot be read; the next tick asks again."""
    return [failure(error)], ""


def register(app: Dash, service: LedgerService) -> None:
    """Add the callback of the board."""
    app.callback(
        Output(BOARD_BODY, "children"),
        Output(BOARD_STAMP, "data"),
        Input(BOARD_TICK, "n_intervals"),
        Input(BOARD_URL, "search"),
        Input(ids.FLOOR_ENTERED, "data"),
        State(BOARD_STAMP, "data"),
        prevent_initial_call=True,
        on_error=failed,
    )(partial(refresh, service))


def _board(reading: LedgerVersion, view: View) -> list[Any]:
    asked = ("board", view.search, str(reading.floor.signs().version))
    return draw_cached(reading, asked, lambda: board_html(load_board(reading, view), view))


def _stamp(reading: LedgerVersion, view: View) -> str:
    return f"{reading.version}.{reading.floor.signs().version}{view.search}"


PAGE = Page("/", key("Board"), layout, register)
