"""The die page: one die over a range of days, every chart with its table beside it."""

from __future__ import annotations

from functools import partial
from typing import Any

from dash import Dash, Input, Output, dcc, html

from dashboards import ids
from dashboards.ledger.service import LedgerService
from dashboards.ledger.version import LedgerVersion
from dashboards.pages.die import DIE_BODY, DIE_DATES, DIE_PICK, DIE_RANGES, DIE_SHIFT, DIE_URL
from dashboards.pages.die.model import chosen, load_die
from dashboards.pages.die.view import die_html
from dashboards.parts.components import draw_cached, failure, list_words
from dashboards.parts.linked_fields import written
from dashboards.parts.page import Page
from dashboards.parts.picker import RangePicker
from dashboards.reason_sheet.view import sheet
from dashboards.request.locale import key, say
from dashboards.request.url import View

RANGE = RangePicker("/die", DIE_URL, DIE_DATES, DIE_RANGES, chosen, shift=DIE_SHIFT)


def layout(reading: LedgerVersion, view: View) -> Any:
    """The pickers filled from the address; the charts follow once the theme is known."""
    view = chosen(reading, view)
    return html.Div(
        [
            dcc.Location(id=DIE_URL, refresh="callback-nav"),
            html.Div(_pickers(reading, view), className="pickers"),
            html.Div(id=DIE_BODY, className="die"),
            sheet(),
        ]
    )


def draw(service: LedgerService, search: str | None, theme: str | None, _entered: Any = None) -> list[Any]:
    """The charts and tables of the die in the address, anew once a reason was entered."""
    reading, view = service.read(), View.parse(search)
    asked = ("die", view.search, theme or "")
    return draw_cached(reading, asked, lambda: die_html(load_die(reading, view), dark=theme == "dark"))


def register(app: Dash, service: LedgerService) -> None:
    """Add the callbacks of the die page."""
    RANGE.register(app, service, written(DIE_PICK, "die"))
    app.callback(
        Output(DIE_BODY, "children"),
        Input(DIE_URL, "search"),
        Input(ids.THEME, "data"),
        Input(ids.FLOOR_ENTERED, "data"),
        on_error=lambda error: [failure(error)],
    )(partial(draw, service))


def _pickers(reading: LedgerVersion, view: View) -> list[Any]:
    names = reading.names("dies")
    # A die that only the address names is an option too, or the picker would empty itself and the address.
    dies = [{"label": f"{die} {names.get(die, '')}".strip(), "value": die} for die in sorted({*names, view.die} - {""})]
    die = dcc.Dropdown(dies, view.die or None, id=DIE_PICK, clearable=False, className="pick-die", labels=list_words())
    return [html.Label([say("Die"), die]), RANGE.shows(reading, view)]


PAGE = Page("/die", key("Die"), layout, register)
