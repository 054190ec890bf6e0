"""The coils page: the account of each coil over a range of days, with what needs somebody above it."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import Any

from dash import Dash, Input, Output, ctx, dcc, html, no_update

from dashboards import ids
from dashboards.coils_html import coils_html
from dashboards.coils_model import ALL, SHOWN, chosen, load_coils
from dashboards.elements import failure
from dashboards.manner import key, manner, say
from dashboards.page import Door, Page, Reading
from dashboards.picker import date_range, range_nav
from dashboards.url import View, date_or_none

_EVERYTHING = "all"
"""Stands in the pickers for no choice, which the component takes for an empty field."""


def layout(reading: Reading, view: View) -> Any:
    """The pickers filled from the address; the coils follow once the theme is known."""
    view = chosen(reading, view)
    return html.Div(
        [
            dcc.Location(id=ids.COILS_URL, refresh="callback-nav"),
            html.Div(_pickers(reading, view), className="pickers"),
            html.Div(id=ids.COILS_BODY, className="die"),
        ]
    )


def sync(
    door: Door,
    search: str | None,
    since: str | None,
    until: str | None,
    press: str | None,
    show: str | None,
    word: str | None,
) -> tuple[Any, ...]:
    """Address and pickers kept the same: whichever changed is taken, and the address never rewrites itself."""
    view = chosen(door.read(), View.parse(search))
    if ctx.triggered_id == ids.COILS_URL:
        return (
            no_update,
            _iso(view.since),
            _iso(view.until),
            view.press or _EVERYTHING,
            view.scope or _EVERYTHING,
            view.value,
        )
    picked = view.but(
        since=date_or_none(since),
        until=date_or_none(until),
        press="" if press in (None, _EVERYTHING) else str(press),
        scope="" if show in (None, _EVERYTHING) else str(show),
        value=(word or "").strip(),
    )
    return picked.search, since, until, press, show, word


def draw(door: Door, search: str | None, theme: str | None) -> list[Any]:
    """The coils of the address."""
    reading, view = door.read(), View.parse(search)
    shown = reading.once(("coils", view.search, *manner().key), lambda: load_coils(reading, view))
    return coils_html(shown, dark=theme == "dark", ranges=range_nav("/coils", reading, shown.view))


def register(app: Dash, door: Door) -> None:
    """Add the callbacks of the coils page."""
    linked = (
        (ids.COILS_URL, "search"),
        (ids.COILS_DATES, "start_date"),
        (ids.COILS_DATES, "end_date"),
        (ids.COILS_PRESS, "value"),
        (ids.COILS_SHOW, "value"),
        (ids.COILS_FIND, "value"),
    )
    app.callback(*[Output(*part) for part in linked], *[Input(*part) for part in linked], prevent_initial_call=True)(
        partial(sync, door)
    )
    app.callback(
        Output(ids.COILS_BODY, "children"),
        Input(ids.COILS_URL, "search"),
        Input(ids.THEME, "data"),
        on_error=lambda error: [failure(error)],
    )(partial(draw, door))


def _pickers(reading: Reading, view: View) -> list[Any]:
    presses = sorted({*reading.names("presses"), view.press} - {""})
    options = [{"label": say("all presses"), "value": _EVERYTHING}, *({"label": p, "value": p} for p in presses)]
    shown = [{"label": say(words), "value": name or _EVERYTHING} for name, words in SHOWN.items()]
    press = dcc.Dropdown(options, view.press or _EVERYTHING, id=ids.COILS_PRESS, clearable=False, searchable=False)
    scope = view.scope if view.scope in SHOWN else ALL
    show = dcc.Dropdown(shown, scope or _EVERYTHING, id=ids.COILS_SHOW, clearable=False, searchable=False)
    find = dcc.Input(view.value, id=ids.COILS_FIND, type="text", debounce=True, maxLength=100)
    return [
        date_range(ids.COILS_DATES, view),
        html.Label([say("Press"), press]),
        html.Label([say("Show"), show]),
        html.Label([say("Coil, lot, heat or supplier"), find]),
    ]


def _iso(date: dt.date | None) -> str | None:
    return date.isoformat() if date else None


PAGE = Page("/coils", key("Coils"), layout, register)
