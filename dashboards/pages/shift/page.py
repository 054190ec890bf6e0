"""The page of one press in one shift: what is entered for it, beyond a reason tapped on the board."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import Any

from dash import Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.ledger.floor_entries import Receipt, Work
from dashboards.ledger.picks import unpack
from dashboards.ledger.service import LedgerService
from dashboards.ledger.version import LedgerVersion
from dashboards.pages.shift import (
    SHIFT_AFTER,
    SHIFT_AT,
    SHIFT_BEFORE,
    SHIFT_HISTORY,
    SHIFT_NOTE,
    SHIFT_OFF,
    SHIFT_OFF_AT,
    SHIFT_REMARK,
    SHIFT_REMOVED,
    SHIFT_SERVE,
    SHIFT_SPLIT,
    SHIFT_STAMP,
    SHIFT_STATION,
    SHIFT_STOP,
    SHIFT_STOPS,
    SHIFT_TICK,
    SHIFT_URL,
    SHIFT_VIEW,
    SHIFT_WORK,
    SHIFT_WORK_AT,
    SHIFT_WRITE,
)
from dashboards.pages.shift.model import load_shift, moment_us
from dashboards.pages.shift.view import forms_html, head_html, history_html, stops_head_html, stops_html
from dashboards.parts.components import failure
from dashboards.parts.page import Page
from dashboards.reason_sheet.callbacks import UNNAMED, overtaken_words
from dashboards.reason_sheet.reasons import offered
from dashboards.reason_sheet.view import entered, sheet
from dashboards.request.formats import size_unit
from dashboards.request.locale import key, say, say_error
from dashboards.request.url import View
from shared.errors import Overtaken, RequestError, StrokeledgerError
from shared.phrases import phrase
from shared.units import convert

REFRESH_MS = 5_000


def layout(reading: LedgerVersion, view: View) -> Any:
    """Stops and history, which follow the ledger, and forms, which stay as they are while somebody writes."""
    shown = load_shift(reading, view)
    if shown.lack:
        return html.Div(stops_html(shown), id=SHIFT_STOPS)
    reasons = offered(reading, {shown.view.press}, shown.view.date or dt.date.min)
    return html.Div(
        [
            dcc.Location(id=SHIFT_URL, refresh="callback-nav"),
            dcc.Interval(id=SHIFT_TICK, interval=REFRESH_MS),
            dcc.Store(id=SHIFT_STAMP, data=reading.version),
            dcc.Store(id=SHIFT_VIEW, data=shown.view.search),
            head_html(shown),
            html.Div(
                [
                    html.Div([stops_head_html(shown), html.Div(stops_html(shown), id=SHIFT_STOPS)]),
                    html.Div(
                        [
                            *forms_html(shown, (*reasons[0], *reasons[1])),
                            html.H2(say("Entered by hand")),
                            html.Div(history_html(shown.history), id=SHIFT_HISTORY),
                        ]
                    ),
                ],
                className="shift-page",
            ),
            sheet(),
        ]
    )


def refresh(
    service: LedgerService, _tick: int | None, _entered: Any, stamp: int | None, search: str | None
) -> tuple[Any, Any, int]:
    """Stops and history of a newer version; nothing while the ledger stays as it is."""
    reading = service.read()
    if reading.version == stamp:
        raise PreventUpdate
    shown = load_shift(reading, View.parse(search))
    return stops_html(shown), history_html(shown.history), reading.version


def enter(service: LedgerService, *given: Any) -> tuple[Any, Any, Any]:
    """Enter what the form whose button was pressed says; a note that is kept leaves its field."""
    _clicks, (search, stamp, who, *values) = given[:4], given[4:]
    if not any(_clicks):
        raise PreventUpdate
    reading, view, by = service.read(), View.parse(search), (who or "").strip() or UNNAMED
    fields = dict(zip(_FIELDS, values, strict=True))
    try:
        told, receipt = _ENTER[str(ctx.triggered_id)](service, reading, view, by, fields, stamp or 0)
    except Overtaken as error:
        return overtaken_words(error, service.read()), {"version": service.read().version}, no_update
    except StrokeledgerError as error:
        return say_error(error), no_update, no_update
    note = "" if ctx.triggered_id == SHIFT_WRITE else no_update
    return entered(told, receipt.load_id), {"version": receipt.version}, note


Fields = dict[str, Any]


def _split(
    service: LedgerService, reading: LedgerVersion, view: View, by: str, fields: Fields, seen: int
) -> tuple[str, Receipt]:
    picks = unpack(fields[SHIFT_STOP])
    stretch = picks[0].stretch if picks else None
    if stretch is None:
        raise RequestError(phrase("Split"), phrase("no stop chosen"), phrase("a stop"), phrase("Choose one"))
    before, after = (str(fields[name] or "") for name in (SHIFT_BEFORE, SHIFT_AFTER))
    at_us = _moment(reading, view, fields[SHIFT_AT])
    return say("The stop is split."), service.floor.split_stop(
        stretch, at_us, before=before, after=after, by=by, seen=seen
    )


def _first_off(
    service: LedgerService, reading: LedgerVersion, view: View, by: str, fields: Fields, seen: int
) -> tuple[str, Receipt]:
    at_us = _moment(reading, view, fields[SHIFT_OFF_AT])
    return say("First-off entered."), service.floor.first_off(view.press, at_us, by)


def _serve(
    service: LedgerService, reading: LedgerVersion, view: View, by: str, fields: Fields, seen: int
) -> tuple[str, Receipt]:
    work = Work(
        load_shift(reading, view).die_id,
        _moment(reading, view, fields[SHIFT_WORK_AT]),
        work=str(fields[SHIFT_WORK]),
        station=None if fields[SHIFT_STATION] in (None, "") else int(fields[SHIFT_STATION]),
        removed_mm=None if fields[SHIFT_REMOVED] in (None, "") else _removed_mm(float(fields[SHIFT_REMOVED])),
        note=str(fields[SHIFT_REMARK] or ""),
    )
    return say("Work on {die} entered.", die=work.die_id), service.floor.service(work, by)


def _removed_mm(shown: float) -> float:
    """What was taken off an edge, entered in the unit that is shown [mm], to the thousandth."""
    return round(convert(shown, size_unit(), "mm"), 3)


def _note(
    service: LedgerService, reading: LedgerVersion, view: View, by: str, fields: Fields, seen: int
) -> tuple[str, Receipt]:
    note, date = str(fields[SHIFT_NOTE] or ""), view.date or dt.date.min
    return say("Note written."), service.floor.write_note(date, view.shift, view.press, note, by)


def _moment(reading: LedgerVersion, view: View, text: object) -> int:
    at_us = moment_us(reading, view, str(text or "").strip())
    if at_us is None:
        raise RequestError(
            phrase("Time"),
            repr(str(text or "")),
            phrase("a clock time of this shift, such as 13:05"),
            phrase("Write it so"),
        )
    return at_us


_FIELDS = (
    SHIFT_STOP,
    SHIFT_AT,
    SHIFT_BEFORE,
    SHIFT_AFTER,
    SHIFT_OFF_AT,
    SHIFT_WORK,
    SHIFT_STATION,
    SHIFT_REMOVED,
    SHIFT_WORK_AT,
    SHIFT_REMARK,
    SHIFT_NOTE,
)
_ENTER = {SHIFT_SPLIT: _split, SHIFT_OFF: _first_off, SHIFT_SERVE: _serve, SHIFT_WRITE: _note}


def register(app: Dash, service: LedgerService) -> None:
    """Add the callbacks of the page."""
    app.callback(
        Output(SHIFT_STOPS, "children"),
        Output(SHIFT_HISTORY, "children"),
        Output(SHIFT_STAMP, "data"),
        Input(SHIFT_TICK, "n_intervals"),
        Input(ids.FLOOR_ENTERED, "data"),
        State(SHIFT_STAMP, "data"),
        State(SHIFT_VIEW, "data"),
        prevent_initial_call=True,
        on_error=lambda error: ([failure(error)], [], 0),
    )(partial(refresh, service))
    app.callback(
        Output(ids.FLOOR_TOLD, "children", allow_duplicate=True),
        Output(ids.FLOOR_ENTERED, "data", allow_duplicate=True),
        Output(SHIFT_NOTE, "value"),
        *[Input(button, "n_clicks") for button in _ENTER],
        State(SHIFT_VIEW, "data"),
        State(SHIFT_STAMP, "data"),
        State(ids.FLOOR_WHO, "value"),
        *[State(name, "value") for name in _FIELDS],
        prevent_initial_call=True,
        on_error=lambda error: (say_error(error), no_update, no_update),
    )(partial(enter, service))


PAGE = Page("/shift", key("Shift"), layout, register, within="/")
