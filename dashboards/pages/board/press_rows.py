"""One press on the board: its state in words and its numbers, each with what it rests on.

Pure: figure rows and states go in; nothing is worked out here that the figure tables do not hold, but for sums.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from dashboards.ledger.records import Records
from dashboards.parts.numbers import Number, looked_at
from dashboards.parts.ribbon import reason_name
from dashboards.parts.strip_left import strokes_per_minute
from dashboards.parts.totals import ScrapTotal, running_time, scrap_total
from dashboards.request.formats import UNKNOWN, between, clock, count, decimal, duration, known, share, text
from dashboards.request.locale import say, say_n
from monitor.plant.order_pace import OrderPace
from monitor.reckoning.press.stops import NO_REASON
from shared.calendar import Calendar
from shared.durations import HOUR_S, SECOND_US

SILENT_AFTER_S = 300
"""A counter this much behind the newest reading of the plant [s] is called silent; common practice, no source."""


@dataclass(frozen=True)
class PressStatus:
    """How a press stands: `look` is run, stand, plan, off, silent or none; `words` say it, `lasted` for how long."""

    look: str
    words: str
    detail: str = ""
    lasted: str = ""


def press_state(
    state: Mapping[str, object],
    newest_us: int,
    stops: Records,
    hours: Records,
    names: Mapping[str, str],
    calendar: Calendar,
    shift_over: bool = False,
) -> PressStatus:
    """State of a press at the newest reading of the plant, the most urgent thing first.

    `stops`: the newest rows of the press, whatever shift they are in; `hours`: of the shift shown.  Where the shift is
    over and the next has not begun, a press that stands or is silent troubles nobody.
    """
    last_us, since_us = state["last_reading_us"], state["standing_since_us"]
    if not known(last_us):
        return PressStatus("none", say("No reading yet"), say("load its counter readings"))
    silent_s, stands = _seconds(last_us, newest_us), known(since_us)
    is_silent, last_clock = silent_s >= SILENT_AFTER_S, clock(last_us, calendar)
    if shift_over and (is_silent or stands):
        return PressStatus("off", say("No shift now"), say("last reading {clock}", clock=last_clock))
    if is_silent:
        lasted = duration(silent_s)
        words = say("Counter silent for {lasted}", lasted=lasted)
        return PressStatus("silent", words, say("last {clock}", clock=last_clock), lasted)
    if not stands:
        rate = decimal(strokes_per_minute(hours), 0)
        return PressStatus("run", say("Running"), say("{n} strokes a minute", n=rate))
    reason, planned = _open_stop(stops)
    lasted = duration(_seconds(since_us, newest_us))
    look = "plan" if planned else "stand"
    return PressStatus(look, say("Standing {lasted}", lasted=lasted), reason_name(reason, names), lasted)


def _seconds(from_us: Any, to_us: int) -> float:
    return (to_us - int(from_us)) / SECOND_US


def numbers(
    shifts: Records,
    scrap: Records,
    rated_per_hour: Mapping[str, float | None],
    order: OrderPace | None = None,
) -> list[Number]:
    """Pieces against plan, parts per hour, uptime and scrap, in this order.

    `rated_per_hour` [pieces/h] by die: what the plan is made of; a die it lacks has no plan.  Where the order lacked
    less when the shift began, that is the plan.
    """
    time = running_time(shifts)
    planned_s, running_s = time.planned_s, time.running_s
    stood = [say("stood {lasted}", lasted=duration(time.stopped_s))] if planned_s else []
    if time.unresolved_s:
        stood.append(say("not seen {lasted}", lasted=duration(time.unresolved_s)))
    pieces = int(_sum(shifts, "pieces"))
    return [
        _pieces(shifts, pieces, rated_per_hour, order),
        Number(
            say("Parts per hour"),
            count(pieces * HOUR_S / planned_s) if planned_s else UNKNOWN,
            (say("planned"), say("{n} running", n=count(pieces * HOUR_S / running_s)))
            if running_s and time.timed
            else (),
        ),
        Number(
            say("Uptime"),
            share(running_s / planned_s, 0) if planned_s and time.seen else UNKNOWN,
            tuple(stood),
        ),
        _scrap(scrap_total(scrap)),
    ]


def planned_pieces(shifts: Records, rated_per_hour: Mapping[str, float | None]) -> float | None:
    """Pieces the planned time so far holds at the rated speed of each die, None where a die has no known rate."""
    total = 0.0
    # Of a die of several parts one row alone has the time.
    for row in (row for row in shifts if known(row["planned_s"])):
        rate = rated_per_hour.get(row["die_id"])
        if row["die_id"] and rate is None:
            return None
        total += (rate or 0.0) * row["planned_s"] / HOUR_S
    return total or None


def _sum(rows: Records, name: str) -> float:
    return float(sum(row[name] for row in rows if known(row[name])))


def _whole_sum(rows: Records, name: str) -> int | None:
    """Sum of counts; None where one of them is not known, since the others alone would look like all."""
    return int(_sum(rows, name)) if all(known(row[name]) for row in rows) else None


def _open_stop(stops: Records) -> tuple[str, bool]:
    """Reason of the stop that has not ended, and whether it lies outside planned time."""
    standing = [row for row in stops if not known(row["end_at"])]
    if not standing:
        return NO_REASON, False
    newest = max(standing, key=lambda row: int(row["start_at"]))
    return text(newest["reason"]), bool(newest["planned"])


def _pieces(
    shifts: Records, pieces: int, rated_per_hour: Mapping[str, float | None], order: OrderPace | None
) -> Number:
    plan = planned_pieces(shifts, rated_per_hour)
    wanted = _lacked(shifts, order) if order else None
    lack = say("no rate known to plan by") if any(row["die_id"] for row in shifts) else say("no die in the press")
    below = (say("{share} of {n} planned", share=share(pieces / plan, 0), n=count(plan)),) if plan else (lack,)
    if plan and wanted and wanted < plan:
        below = (say("{share} of {n} the order lacked", share=share(pieces / wanted, 0), n=count(wanted)),)
    setting = _whole_sum(shifts, "setup_pieces")
    told = (say_n(setting, "{n} setting piece", "{n} setting pieces"),) if setting else ()
    return Number(say("Pieces"), count(pieces), (*below, *told))


def _lacked(shifts: Records, order: OrderPace) -> int | None:
    """Pieces that the order lacked when the shift began; None where its good pieces are not known."""
    made = _whole_sum([row for row in shifts if row["part_no"] == order.part_no], "good")
    return None if made is None else order.quantity - max(0, order.done - made)


def _scrap(total: ScrapTotal) -> Number:
    if not total.inspected:
        return Number(say("Scrap"), UNKNOWN, (say("no inspection yet"),))
    return Number(say("Scrap"), share(total.rate), (looked_at(total), between(total.rate_low, total.rate_high)))
