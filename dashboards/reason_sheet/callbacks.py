"""What happens when a stop, a reason or an undo is tapped, on whatever page."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from dash import Dash, Input, Output, State, no_update
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.ledger.picks import Pick, unpack
from dashboards.ledger.service import LedgerService
from dashboards.ledger.version import LedgerVersion
from dashboards.parts.ribbon import reason_name
from dashboards.reason_sheet.reasons import OfferedReason, offered
from dashboards.reason_sheet.view import choose, entered, heading, overtaken, refused
from dashboards.request.formats import clock, text
from dashboards.request.locale import say, say_again, say_error
from dashboards.request.url import View
from shared.errors import Overtaken, StrokeledgerError

UNNAMED = "somebody at a screen"

Answer = tuple[Any, Any, Any, Any]
"""Sheet, what it is asked about (stops and version), what was said, what was entered."""


def act(
    service: LedgerService, done: Mapping[str, Any] | None, asked: Mapping[str, Any] | None, who: str | None
) -> Answer:
    """Do what was tapped: pick stops, give them a reason, take an entry back."""
    if not done:
        raise PreventUpdate
    by = (who or "").strip() or UNNAMED
    if done.get("do") == "pick":
        return _pick(service.read(), unpack(done.get("stops")), done.get("stops"))
    if done.get("do") == "undo":
        return _undo(service, str(done.get("load")), by)
    return _reason(service, text(done.get("reason")), dict(asked or {}), by)


def _pick(reading: LedgerVersion, picks: Sequence[Pick], packed: object) -> Answer:
    if not picks:
        raise PreventUpdate
    first, rest = _offered(reading, picks)
    now = say("Now: {reason}", reason=_stands(reading, picks[0])) if len(picks) == 1 else ""
    page = f"/shift{View(press=picks[0].press, date=_date(reading, picks[0]), shift=_shift(reading, picks[0])).search}"
    return (
        choose(heading(picks, reading.clock), now, first, rest, page),
        {"stops": packed, "seen": reading.version},
        no_update,
        no_update,
    )


def _reason(service: LedgerService, code: str, asked: dict[str, Any], by: str) -> Answer:
    picks = unpack(asked.get("stops"))
    stretches = [pick.stretch for pick in picks]
    reading = service.read()
    reason = OfferedReason(code, reason_name(code, reading.names("reasons")), "", 0)
    try:
        receipt = service.floor.give_reason(stretches, code, by, int(asked.get("seen") or 0))
    except Overtaken as error:
        told = overtaken_words(error, reading)
        return overtaken(told, reason), {**asked, "seen": service.read().version}, no_update, no_update
    except StrokeledgerError as error:
        return refused(say_error(error)), no_update, no_update, no_update
    said = say("{stop}: {reason}", stop=heading(picks, reading.clock), reason=reason.name)
    return [], None, entered(said, receipt.load_id), {"version": receipt.version}


def _undo(service: LedgerService, load: str, by: str) -> Answer:
    try:
        receipt = service.floor.undo(int(load) if load.isdigit() else 0, by)
    except Overtaken as error:
        told = say("Not taken back. {what}", what=overtaken_words(error, service.read()))
        return no_update, no_update, told, no_update
    except StrokeledgerError as error:
        return no_update, no_update, say_error(error), no_update
    return no_update, no_update, entered(say("Taken back."), receipt.load_id), {"version": receipt.version}


def overtaken_words(error: Overtaken, reading: LedgerVersion) -> str:
    """What somebody else entered, in words."""
    row = error.row
    moments = (error.at_us or None, row.get("start_at"), row.get("end_at"))
    at, start, end = (clock(us, reading.clock) for us in moments)
    what = (
        reason_name(text(row.get("reason")), reading.names("reasons")) if row.get("reason") else text(row.get("event"))
    )
    if error.gone:
        return say("{who} took “{what}” back at {time}.", who=say_again(error.by), what=what, time=at)
    span = say("{low} to {high}", low=start, high=end) if end else say("since {time}", time=start)
    return say("{who} entered “{what}” ({span}) at {time}.", who=say_again(error.by), what=what, span=span, time=at)


def _offered(
    reading: LedgerVersion, picks: Sequence[Pick]
) -> tuple[tuple[OfferedReason, ...], tuple[OfferedReason, ...]]:
    presses = {pick.press for pick in picks}
    newest = _date(reading, picks[-1]) or dt.date.today()
    asked = ("reasons", *sorted(presses), str(newest))
    return reading.cached(asked, lambda: offered(reading, presses, newest))


def _stands(reading: LedgerVersion, pick: Pick) -> str:
    """The reason that stands in the figures for the beginning of a stop."""
    rows = reading.figure("stops", from_=pick.start_us, press=pick.press)
    mine = rows[rows["start_at"] == pick.start_us]
    code = text(mine["reason"].iloc[0]) if len(mine) else ""
    return reason_name(code, reading.names("reasons"))


def _date(reading: LedgerVersion, pick: Pick) -> dt.date | None:
    window = _window(reading, pick)
    return window[0] if window else None


def _shift(reading: LedgerVersion, pick: Pick) -> str:
    window = _window(reading, pick)
    return window[1] if window else ""


def _window(reading: LedgerVersion, pick: Pick) -> tuple[dt.date, str] | None:
    calendar, at_us = reading.calendar(), pick.start_us
    found = calendar.shifts(pick.press, at_us, at_us + 1) if calendar else []
    return (found[0].shift_date, found[0].shift) if found else None


def register(app: Dash, service: LedgerService) -> None:
    """Add the callback of the sheet; `assets/floor.js` tells it what was tapped."""
    app.callback(
        Output(ids.FLOOR_BODY, "children"),
        Output(ids.FLOOR_ASKED, "data"),
        Output(ids.FLOOR_TOLD, "children"),
        Output(ids.FLOOR_ENTERED, "data"),
        Input(ids.FLOOR_ACT, "data"),
        State(ids.FLOOR_ASKED, "data"),
        State(ids.FLOOR_WHO, "value"),
        prevent_initial_call=True,
        on_error=lambda error: (refused(say_error(error)), no_update, no_update, no_update),
    )(partial(act, service))
