"""One die over a range of plant days: what its charts and tables show."""

from __future__ import annotations

import datetime as dt
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import pandas as pd

from dashboards.ledger.records import records
from dashboards.ledger.version import LedgerVersion
from dashboards.pages.die.stops import DieStop, ShiftRibbon, die_stops, shift_ribbons
from dashboards.parts.contradictions import Mark, mark
from dashboards.parts.numbers import Number, looked_at
from dashboards.parts.picker import bounds, last_days
from dashboards.parts.totals import (
    RunningTime,
    coil_losses,
    coil_yield,
    in_shift,
    running_time,
    scrap_by_cause,
    scrap_total,
    scrap_totals,
    stop_minutes,
    whole_sum,
)
from dashboards.request.formats import UNKNOWN, between, count, day, decimal, duration, known, share, text
from dashboards.request.locale import key, say, say_n
from dashboards.request.url import View
from shared.calendar import Calendar
from shared.durations import HOUR_S
from shared.plant import Plant

DEFAULT_DAYS = 7

_SHIFT = ["shift_date", "shift", "press_id"]


@dataclass(frozen=True)
class DieView:
    """What the die page shows; `lack` says what to do where there is nothing to show.

    `tables`: hours, reasons, losses, causes, shifts; `left_out` coils without a known weight; `ribbons` the newest
    shifts and `stops` the stops to be tapped.
    """

    view: View
    die_name: str = ""
    lack: str = ""
    totals: tuple[Number, ...] = ()
    rated_per_hour: float | None = None
    left_out: int = 0
    tables: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    ribbons: tuple[ShiftRibbon, ...] = ()
    stops: tuple[DieStop, ...] = ()
    contradicted: Mark | None = None
    clock: Calendar = field(default_factory=lambda: Calendar(Plant(timezone="UTC")))


def chosen(reading: LedgerVersion, view: View) -> View:
    """The view with the page's own choices filled in: the first die, the last seven plant days."""
    return last_days(reading, view, DEFAULT_DAYS).but(die=view.die or _first_die(reading))


def load_die(reading: LedgerVersion, view: View) -> DieView:
    """The die of a view over its plant days; says what is lacking instead of showing nothing."""
    view = chosen(reading, view)
    names = reading.names("dies", view.until)
    shown = DieView(view, names.get(view.die, ""))
    lack = _lack(reading, view, names)
    if lack or not (view.since and view.until):
        return replace(shown, lack=lack or say("No counter has been read yet. Load strokes files first."))
    calendar = reading.calendar()
    to = (view.until + dt.timedelta(days=1)).isoformat()
    wanted = ("shifts", "hours", "stops", "coils", "scrap")
    found = reading.figures(wanted, from_=view.since.isoformat(), to=to, die=view.die)
    tables = {name: in_shift(rows, view.shift, calendar) for name, rows in found.items()}
    if tables["shifts"].empty:
        none = key("{die} made no stroke from {since} to {until}. Widen the dates or pick another die.")
        if view.shift:
            none = key(
                "{die} made no stroke in the {shift} shift from {since} to {until}. "
                "Widen the dates or pick another die."
            )
        dates = {"since": day(view.since), "until": day(view.until)}
        return replace(shown, lack=say(none, die=view.die, shift=view.shift, **dates))
    return _filled(reading, shown, tables)


def _filled(reading: LedgerVersion, shown: DieView, tables: dict[str, pd.DataFrame]) -> DieView:
    pieces = int(tables["shifts"]["pieces"].sum())
    until = shown.view.until
    reasons = reading.names("reasons", until)
    losses, left_out = coil_losses(tables["coils"])
    return replace(
        shown,
        totals=_totals(tables, pieces),
        rated_per_hour=_rated(reading, tables["shifts"]),
        left_out=left_out,
        ribbons=shift_ribbons(reading, tables["shifts"]),
        stops=die_stops(tables["stops"], reasons, reading.clock),
        contradicted=_contradicted(reading, shown.view),
        clock=reading.clock,
        tables={
            "hours": tables["hours"],
            "reasons": stop_minutes(tables["stops"], reasons),
            "losses": losses,
            "causes": scrap_by_cause(tables["scrap"], reading.names("causes", until)),
            "shifts": _per_shift(tables, reasons, reading.calendar()),
        },
    )


def _contradicted(reading: LedgerVersion, view: View) -> Mark | None:
    """The mark for rows about the die that cannot all be true."""
    calendar = reading.calendar()
    found = reading.contradictions(*bounds(calendar, view.but(press="")), die=view.die)
    return mark(found, calendar, View(die=view.die)) if calendar else None


def _lack(reading: LedgerVersion, view: View, names: Mapping[str, str]) -> str:
    if not names:
        return say(
            "The plant book has no die yet. Load dies.csv and stations.csv: strokeledger load FOLDER --ledger LEDGER"
        )
    if view.die not in names:
        none = key("There is no die “{die}” in the plant book. Pick one above, or load the dies.csv that names it.")
        return say(none, die=view.die)
    if view.since and view.until and view.since > view.until:
        backwards = key("The dates run backwards: {since} to {until}. Pick the earlier date first.")
        return say(backwards, since=day(view.since), until=day(view.until))
    calendar = reading.calendar()
    shifts = sorted({shift.name for shift in calendar.plant.shifts}) if calendar else []
    if view.shift and view.shift not in shifts:
        none = key("The plant has no shift called “{shift}”. It has {shifts}.")
        return say(none, shift=view.shift, shifts=", ".join(shifts) or say("none yet"))
    return ""


def _first_die(reading: LedgerVersion) -> str:
    """The die on the first press that has one, else the first of the plant book."""
    states = reading.press_states().sort_values("press_id")
    mounted = [text(die) for die in states["die_id"] if text(die)]
    return next(iter([*mounted, *sorted(reading.names("dies"))]), "")


def _rated(reading: LedgerVersion, shifts: pd.DataFrame) -> float | None:
    """Rated pieces an hour, None where presses or dates differ: one line cannot be right for both."""
    runs = shifts[["press_id", "die_id", "shift_date"]].drop_duplicates().itertuples(index=False, name=None)
    rates = {reading.rated_per_hour(press_id, die_id, dt.date.fromisoformat(date)) for press_id, die_id, date in runs}
    return rates.pop() if len(rates) == 1 else None


def _totals(tables: Mapping[str, pd.DataFrame], pieces: int) -> tuple[Number, ...]:
    shifts = tables["shifts"]
    time = running_time(records(shifts))
    planned_s, running_s = time.planned_s, time.running_s
    stood = [say("ran {lasted}", lasted=duration(running_s)), say("stood {lasted}", lasted=duration(time.stopped_s))]
    if time.unresolved_s:
        stood.append(say("not seen {lasted}", lasted=duration(time.unresolved_s)))
    scrap = scrap_total(records(tables["scrap"]))
    setting = whole_sum(shifts["setup_pieces"])
    return (
        Number(
            say("Pieces"),
            count(pieces),
            (say("{n} good", n=count(whole_sum(shifts["good"]))), say("{n} setting", n=count(setting))),
        ),
        Number(
            say("Parts per hour"),
            count(pieces * HOUR_S / planned_s) if planned_s else UNKNOWN,
            (
                say("planned"),
                say("{n} running", n=count(pieces * HOUR_S / running_s)) if running_s and time.timed else "",
            ),
        ),
        Number(
            say("Uptime"),
            share(running_s / planned_s) if planned_s and time.seen else UNKNOWN,
            tuple(stood),
        ),
        Number(
            say("Scrap"),
            share(scrap.rate) if scrap.inspected else UNKNOWN,
            (looked_at(scrap), between(scrap.rate_low, scrap.rate_high))
            if scrap.inspected
            else (say("no inspection"),),
        ),
        Number(
            say("Coil yield"),
            share(coil_yield(tables["coils"])),
            (say_n(len(tables["coils"]), "{n} coil", "{n} coils"),),
        ),
    )


def _per_shift(tables: Mapping[str, pd.DataFrame], names: Mapping[str, str], calendar: Calendar | None) -> pd.DataFrame:
    """One row a shift and press, newest first, in the words the table shows."""
    groups = tables["shifts"].groupby(_SHIFT)
    sums = groups[["pieces"]].sum()
    times = {name: running_time(records(mine)) for name, mine in groups}
    for name in ("good", "setup_pieces"):
        sums[name] = groups[name].agg(whole_sum)
    scrap = scrap_totals(tables["scrap"], _SHIFT)
    stops = stop_minutes(tables["stops"], names, by=_SHIFT).drop_duplicates(_SHIFT)
    starts = {shift.name: shift.start for shift in calendar.plant.shifts} if calendar else {}
    rows = sums.reset_index().merge(scrap, on=_SHIFT, how="left").merge(stops, on=_SHIFT, how="left")
    rows["start"] = [starts.get(shift, -1) for shift in rows["shift"]]
    rows = rows.sort_values(["shift_date", "start", "press_id"], ascending=[False, False, True])
    told = rows.to_dict("records")
    return pd.DataFrame([_shift_words(row, times[tuple(row[name] for name in _SHIFT)]) for row in told])


def _shift_words(row: Mapping[Hashable, Any], time: RunningTime) -> dict[str, str]:
    pieces, planned_s, running_s = float(row["pieces"]), time.planned_s, time.running_s
    looked = known(row["inspected"]) and row["inspected"] > 0
    return {
        say("Date"): day(dt.date.fromisoformat(row["shift_date"])),
        say("Shift"): row["shift"],
        say("Press"): row["press_id"],
        say("Pieces"): count(pieces),
        say("Good"): count(row["good"]),
        say("Setting"): count(row["setup_pieces"]),
        say("Scrap"): share(row["rate"]) if looked else UNKNOWN,
        say("95 % interval"): (between(row["rate_low"], row["rate_high"]) if looked else "") or UNKNOWN,
        say("Rejected of inspected"): of_all(row["rejected"], row["inspected"]) if looked else UNKNOWN,
        say("By"): found_by(row["estimate"]) if looked else UNKNOWN,
        say("Parts/h planned"): count(pieces * HOUR_S / planned_s) if planned_s else UNKNOWN,
        say("Parts/h running"): count(pieces * HOUR_S / running_s) if running_s and time.timed else UNKNOWN,
        say("Uptime"): share(running_s / planned_s, 0) if planned_s and time.seen else UNKNOWN,
        say("Stood"): duration(time.stopped_s),
        say("Not seen"): duration(time.unresolved_s) if time.unresolved_s else "",
        say("Longest reason"): _longest(row),
    }


def _longest(row: Mapping[Hashable, Any]) -> str:
    return f"{row['reason']}, {decimal(row['minutes'], 0)} min" if known(row["reason"]) else UNKNOWN


def of_all(part: object, whole: object) -> str:
    """A count out of another."""
    return say("{n} of {all}", n=count(part), all=count(whole))


def found_by(estimate: bool) -> str:
    """Whether pieces were sampled or all looked at."""
    return say("sample") if estimate else say("count")
