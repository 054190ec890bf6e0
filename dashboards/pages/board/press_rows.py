"""One press on the board: its state in words and its numbers, each with what it rests on.

Pure: figure rows and states go in; nothing is worked out here that the figure tables do not hold, but for sums.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from dashboards.ledger.records import Record, Records
from dashboards.parts.ribbon import reason_name
from dashboards.parts.totals import ScrapTotal, running_time, scrap_total
from dashboards.request.formats import UNKNOWN, between, clock, count, decimal, duration, known, length, share, text, us
from dashboards.request.locale import say, say_n
from monitor.plant.order_pace import OrderPace
from monitor.reckoning.pieces.difference import CoilEnd, coil_end
from monitor.reckoning.press.stops import NO_REASON

SILENT_AFTER_S = 300
"""A counter this much behind the newest reading of the plant [s] is called silent; common practice, no source."""

SOON_MIN = 20
"""Strip for less than this [min] is called short: time to stage the next coil; common practice, no source."""

USED_DOUBT = 0.02
"""Part of the strip used by which it may be off, since thickness varies along a coil; common practice, no source."""


NARROW = 0.03
"""Part of the time that strip lasts, below which its interval is not worth a line; common practice, no source."""


@dataclass(frozen=True)
class State:
    """How a press stands: `look` is run, stand, plan, off, silent or none; `words` say it, `lasted` for how long."""

    look: str
    words: str
    detail: str = ""
    lasted: str = ""


@dataclass(frozen=True)
class Number:
    """One number of a row: its value, what stands below it, and whether it needs somebody now."""

    label: str
    value: str
    below: tuple[str, ...] = ()
    loud: bool = False


@dataclass(frozen=True)
class Strip:
    """Strip left of the coil on the press: metres, and its end at the present rate; None where not known."""

    metres: float | None
    end: CoilEnd | None
    overrun_m: float


def press_state(
    state: Mapping[str, object],
    newest: str,
    stops: Records,
    hours: Records,
    names: Mapping[str, str],
    shift_over: bool = False,
) -> State:
    """State of a press at the newest reading of the plant, the most urgent thing first.

    `stops`: the newest rows of the press, whatever shift they are in; `hours`: of the shift shown.  Where the shift is
    over and the next has not begun, a press that stands or is silent troubles nobody.
    """
    last, now = us(state["last_reading_at"]), us(newest)
    if last is None or now is None:
        return State("none", say("No reading yet"), say("load its counter readings"))
    silent_s, since = (now - last) / 1e6, us(state["standing_since"])
    is_silent, last_clock = silent_s >= SILENT_AFTER_S, clock(text(state["last_reading_at"]))
    if shift_over and (is_silent or since is not None):
        return State("off", say("No shift now"), say("last reading {clock}", clock=last_clock))
    if is_silent:
        lasted = duration(silent_s)
        words = say("Counter silent for {lasted}", lasted=lasted)
        return State("silent", words, say("last {clock}", clock=last_clock), lasted)
    if since is None:
        rate = decimal(strokes_per_minute(hours), 0)
        return State("run", say("Running"), say("{n} strokes a minute", n=rate))
    reason, planned = _open_stop(stops)
    lasted = duration((now - since) / 1e6)
    look = "plan" if planned else "stand"
    return State(look, say("Standing {lasted}", lasted=lasted), reason_name(reason, names), lasted)


def strokes_per_minute(hours: Records) -> float | None:
    """Strokes a minute of running time in the newest two hours with any, None where the press did not run."""
    ran = [row for row in hours if row["running_s"] > 0 and not row["unresolved_s"] > 0]
    newest = sorted({row["hour_start"] for row in ran})[-2:]
    ran = [row for row in ran if row["hour_start"] in newest]
    seconds = sum(row["running_s"] for row in ran)
    return sum(row["strokes"] for row in ran) * 60 / seconds if seconds else None


def strip_left(coils: Records, hours: Records) -> Strip | None:
    """Strip left of the coil on the press, None where there is none."""
    on = [row for row in coils if row["removed_at"] == ""]
    if not on:
        return None
    coil = max(reversed(on), key=lambda row: str(row["mounted_at"]))
    overrun = float(coil["overrun_m"]) if known(coil["overrun_m"]) else 0.0
    if not (known(coil["remaining_kg"]) and known(coil["used_kg"]) and coil["used_kg"] > 0):
        return Strip(None, None, overrun)
    metres = max(0.0, coil["remaining_kg"] * coil["used_m"] / coil["used_kg"])
    return Strip(metres, _end(coil, strokes_per_minute(hours)), overrun)


def _end(coil: Record, spm: float | None) -> CoilEnd | None:
    """When the coil runs out at a rate [spm], with what its use so far leaves in doubt."""
    finished = coil["strokes"] - coil["unfinished"]
    if not (spm and finished > 0):
        return None
    return coil_end(
        max(0.0, coil["remaining_kg"]),
        coil["used_kg"] / coil["used_m"],
        coil["used_m"] * 1000 / coil["strokes"],
        round(coil["pieces"] / finished),
        spm,
        left_doubt_kg=USED_DOUBT * coil["used_kg"],
    )


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
            count(pieces * 3600 / planned_s) if planned_s else UNKNOWN,
            (say("planned"), say("{n} running", n=count(pieces * 3600 / running_s)))
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
        total += (rate or 0.0) * row["planned_s"] / 3600
    return total or None


def _sum(rows: Records, name: str) -> float:
    return float(sum(row[name] for row in rows if known(row[name])))


def _whole_sum(rows: Records, name: str) -> int | None:
    """Sum of counts; None where one of them is not known, since the others alone would look like all."""
    return int(_sum(rows, name)) if all(known(row[name]) for row in rows) else None


def _open_stop(stops: Records) -> tuple[str, bool]:
    """Reason of the stop that has not ended, and whether it lies outside planned time."""
    standing = [row for row in stops if row["end_at"] == ""]
    if not standing:
        return NO_REASON, False
    newest = max(standing, key=lambda row: str(row["start_at"]))
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


def looked_at(total: ScrapTotal) -> str:
    """Rejected of inspected pieces, and whether that was a sample."""
    counts = {"n": count(total.rejected), "all": count(total.inspected)}
    return say("{n} of {all} sampled", **counts) if total.estimate else say("{n} of {all}", **counts)


def strip_number(strip: Strip | None) -> Number:
    """Strip left on the press and how long it lasts, loud when it is time to stage the next coil."""
    label = say("Strip left")
    if strip is None:
        return Number(label, UNKNOWN, (say("no coil noted"),))
    if strip.overrun_m > 0:
        return Number(
            label,
            length(0),
            (say("{length} over its length:", length=length(strip.overrun_m)), say("a change was not noted")),
            True,
        )
    if strip.metres is None:
        return Number(label, UNKNOWN, (say("weight not known"),))
    if strip.end is None:
        return Number(label, length(strip.metres))
    low, high = duration(strip.end.minutes_low * 60), duration(strip.end.minutes_high * 60)
    wide = strip.end.minutes_high - strip.end.minutes_low >= NARROW * strip.end.minutes
    span = (say("{low} to {high}", low=low, high=high),) if wide and low != high else ()
    about = say("about {lasted}", lasted=duration(strip.end.minutes * 60))
    below = (about, *span, say_n(round(strip.end.pieces), "{n} piece", "{n} pieces"))
    soon = strip.end.minutes < SOON_MIN
    return Number(label, length(strip.metres), (*below, say("stage the next coil")) if soon else below, soon)
