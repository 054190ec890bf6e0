"""The die page: one die over a range of days, every chart with its table beside it."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import Any

from dash import Dash, Input, Output, ctx, dcc, html, no_update

from dashboards import ids
from dashboards.die_html import die_html
from dashboards.die_model import chosen, load_die
from dashboards.elements import failure
from dashboards.manner import key, say
from dashboards.page import Door, Page, Reading
from dashboards.picker import ALL_SHIFTS, date_range, range_nav, shift_pick
from dashboards.url import View, date_or_none


def layout(reading: Reading, view: View) -> Any:
    """The pickers filled from the address; the charts follow once the theme is known."""
    view = chosen(reading, view)
    return html.Div(
        [
            dcc.Location(id=ids.DIE_URL, refresh="callback-nav"),
            html.Div(_pickers(reading, view), className="pickers"),
            html.Div(id=ids.DIE_BODY, className="die"),
        ]
    )


def sync(
    door: Door, search: str | None, die: str | None, since: str | None, until: str | None, shift: str | None
) -> tuple[Any, ...]:
    """Address and pickers kept the same: whichever changed is taken, and the address never rewrites itself."""
    view = chosen(door.read(), View.parse(search))
    if ctx.triggered_id == ids.DIE_URL:
        return no_update, view.die, _iso(view.since), _iso(view.until), view.shift or ALL_SHIFTS
    picked = view.but(die=die or "", shift=_shift(shift), since=date_or_none(since), until=date_or_none(until))
    return picked.search, die, since, until, shift


def draw(door: Door, search: str | None, theme: str | None) -> list[Any]:
    """The charts and tables of the die in the address."""
    reading = door.read()
    shown = load_die(reading, View.parse(search))
    return die_html(shown, dark=theme == "dark", ranges=range_nav("/die", reading, shown.view))


def register(app: Dash, door: Door) -> None:
    """Add the callbacks of the die page."""
    linked = (
        (ids.DIE_URL, "search"),
        (ids.DIE_PICK, "value"),
        (ids.DIE_DATES, "start_date"),
        (ids.DIE_DATES, "end_date"),
        (ids.DIE_SHIFT, "value"),
    )
    app.callback(*[Output(*part) for part in linked], *[Input(*part) for part in linked], prevent_initial_call=True)(
        partial(sync, door)
    )
    app.callback(
        Output(ids.DIE_BODY, "children"),
        Input(ids.DIE_URL, "search"),
        Input(ids.THEME, "data"),
        on_error=lambda error: [failure(error)],
    )(partial(draw, door))


def _pickers(reading: Reading, view: View) -> list[Any]:
    names = reading.names("dies")
    # A die that only the address names is an option too, or the picker would empty itself and the address.
    dies = [{"label": f"{die} {names.get(die, '')}".strip(), "value": die} for die in sorted({*names, view.die} - {""})]
    die = dcc.Dropdown(dies, view.die or None, id=ids.DIE_PICK, clearable=False, className="pick-die")
    return [
        html.Label([say("Die"), die]),
        date_range(ids.DIE_DATES, view),
        shift_pick(ids.DIE_SHIFT, reading.calendar(), view),
    ]


def _iso(date: dt.date | None) -> str | None:
    return date.isoformat() if date else None


def _shift(value: str | None) -> str:
    return "" if value in (None, ALL_SHIFTS) else str(value)


PAGE = Page("/die", key("Die"), layout, register)
