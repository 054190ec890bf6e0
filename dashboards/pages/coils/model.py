"""What the coils page shows: the account of each coil, what the strip became, yields, holds, changes not noted."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np
import pandas as pd

from dashboards.holds.words import hold_place_words
from dashboards.ledger.records import by_press, records
from dashboards.ledger.version import LedgerVersion
from dashboards.parts.coil_words import PARTS, Row, heavy
from dashboards.parts.contradictions import Mark, mark
from dashboards.parts.numbers import Number
from dashboards.parts.picker import bounds, last_days, newest_us
from dashboards.parts.strip_left import strip_left
from dashboards.request.formats import (
    UNKNOWN,
    count,
    day,
    duration,
    moment,
    share,
)
from dashboards.request.locale import key, say, say_n
from dashboards.request.url import View
from monitor.export import written
from monitor.figures.contradictions import Contradiction
from monitor.figures.genealogy.holds_in_force import MOUNTED, NEXT, HoldPlace
from monitor.figures.material.coil_ledger import UNEXPLAINED, UNWEIGHED
from monitor.figures.material.unscanned import Missing
from monitor.figures.material.yields import yields
from monitor.figures.scope import Bound
from monitor.reckoning.pieces.difference import CoilEnd
from shared.calendar import Calendar

#: Days shown where the address names none, up to the newest reading.
USUAL_DAYS = 7

#: Containers or coils named one by one.
_NAMED = 3

ALL, ON_PRESS, IN_STORE, ODD, HELD = "", "press", "store", "odd", "held"

SHOWN: Mapping[str, str] = {
    ALL: key("all coils"),
    ON_PRESS: key("on a press"),
    IN_STORE: key("in store"),
    ODD: key("that do not add up"),
    HELD: key("under hold"),
}
"""What part of the coils is shown, as `scope` of the address has it."""


@dataclass(frozen=True)
class CoilsView:
    """The page: `lack` says what is missing and what to do; `since` and `until` are the days shown."""

    view: View
    lack: str = ""
    title: str = ""
    totals: tuple[Number, ...] = ()
    rows: pd.DataFrame = field(default_factory=pd.DataFrame)
    whole: Mapping[str, float] = field(default_factory=dict)
    yields: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    hold_places: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    held: Mapping[str, str] = field(default_factory=dict)
    ends: Mapping[str, str] = field(default_factory=dict)
    contradicted: Mapping[str, Mark] = field(default_factory=dict)
    begun: Mapping[str, str] = field(default_factory=dict)


def load_coils(reading: LedgerVersion, view: View) -> CoilsView:
    """The coils with strip in use in the days of the address, and those there now where it names none."""
    view, calendar, newest = chosen(reading, view), reading.calendar(), newest_us(reading)
    if calendar is None or not newest or view.since is None or view.until is None:
        return CoilsView(view, say("No counter has been read yet: load the plant's files, then its coils show here."))
    last = calendar.plant_day(newest)
    since, to = bounds(calendar, view)
    # A range that reaches the newest reading has no end, so that what lies on a press now is in it.
    asked = (since, "" if view.until >= last and not view.shift else to)
    ledger = _ledger(reading, view, asked)
    if ledger.empty:
        return CoilsView(view, say("No coil was on a press in these days. Choose other days, or load coil_changes."))
    held = _held(reading)
    rows = _chosen(ledger, view, held)
    if rows.empty:
        return CoilsView(view, _no_match(view), _title(view))
    mountings = reading.figure("coils", *asked, press=view.press)
    mountings = mountings[mountings["coil_id"].isin(rows["coil_id"])]
    return CoilsView(
        view,
        title=_title(view),
        totals=_totals(rows, mountings, held),
        rows=_in_order(rows, held),
        whole={part: float(rows[f"{part}_kg"].sum()) for part in PARTS},
        yields={by: yields(written(mountings), [by]) for by in ("lot", "supplier", "die_id")},
        hold_places=tuple(hold_place_words(place) for place in _of_strip(reading.hold_places(), view)),
        missing=tuple(question(one, calendar) for one in reading.missing_scans(*asked, press=view.press)),
        held=held,
        ends=_ends(reading, rows, last),
        contradicted=_contradicted(reading.contradictions(*asked, view.press), calendar),
        begun={str(coil): moment(us, calendar) for coil, us in zip(rows["coil_id"], rows["mounted_at"], strict=True)},
    )


def _contradicted(found: Sequence[Contradiction], calendar: Calendar) -> dict[str, Mark]:
    """The mark of each coil about which rows cannot all be true."""
    by_coil: dict[str, list[Contradiction]] = {}
    for one in found:
        for coil in one.coils:
            by_coil.setdefault(coil, []).append(one)
    marks = {coil: mark(some, calendar, View(scope="coil", value=coil)) for coil, some in by_coil.items()}
    return {coil: shown for coil, shown in marks.items() if shown}


def chosen(reading: LedgerVersion, view: View) -> View:
    """The view with the days that are shown where the address names none."""
    return last_days(reading, view, USUAL_DAYS)


def _title(view: View) -> str:
    first, last = (day(date) if date else "" for date in (view.since, view.until))
    if view.shift:
        return say("Coils, {shift} shift, {day}", shift=view.shift, day=last)
    return say("Coils, {first} to {last}", first=first, last=last)


def _ledger(reading: LedgerVersion, view: View, asked: tuple[Bound, Bound]) -> pd.DataFrame:
    """The account of the coils used in the range, with those that wait in store where the range has no end."""
    used = reading.figure("coil_ledger", *asked, press=view.press, die=view.die)
    if asked[1] or view.press or view.die:
        return used
    waiting = reading.unspent_coils()
    waiting = waiting[~waiting["coil_id"].isin(used["coil_id"])]
    return pd.concat([used, waiting], ignore_index=True) if len(waiting) else used


def _held(reading: LedgerVersion) -> dict[str, str]:
    """The reason of a hold by what it holds: coil, lot or heat, under a name that says which."""
    rows = reading.holds()
    return {
        f"{scope} {value}": f"{hold_id}: {reason}"
        for scope, value, hold_id, reason in zip(
            *(rows[c] for c in ("scope", "value", "hold_id", "reason")), strict=True
        )
    }


def hold_on(row: Row, held: Mapping[str, str]) -> str:
    """Number and reason of the hold that a coil is under by itself, its lot or its heat; "" where it is under none."""
    names = (f"coil {row['coil_id']}", f"lot {row['lot']}", f"heat {row['heat']}")
    return next((held[name] for name in names if name in held), "")


def _chosen(ledger: pd.DataFrame, view: View, held: Mapping[str, str]) -> pd.DataFrame:
    word = view.value.casefold()
    if word:
        names = ledger[["coil_id", "lot", "heat", "supplier", "material"]].astype(str)
        ledger = ledger[names.apply(lambda row: any(word in cell.casefold() for cell in row), axis=1)]
    if view.scope == ODD:
        return ledger[(ledger["finding"] == UNEXPLAINED) | (ledger["overrun_m"] > 0)]
    if view.scope == HELD:
        return ledger.loc[np.array([bool(hold_on(row, held)) for row in records(ledger)], dtype=bool)]
    state = {ON_PRESS: "on press", IN_STORE: "in store"}.get(view.scope)
    return ledger if state is None else ledger[ledger["state"] == state]


def _no_match(view: View) -> str:
    shown = say(SHOWN.get(view.scope, SHOWN[ALL]))
    if view.value:
        return say(
            "No coil among “{shown}” has “{word}” in its number, lot, heat or supplier.", shown=shown, word=view.value
        )
    return say("There are no coils “{shown}” in these days.", shown=shown)


def _in_order(rows: pd.DataFrame, held: Mapping[str, str]) -> pd.DataFrame:
    """What needs somebody first, then what is on a press, then what was mounted last; coils in store at the end."""
    urgent = [
        2 * (row["finding"] == UNEXPLAINED) + 2 * bool(row["overrun_m"] > 0) + bool(hold_on(row, held))
        for row in records(rows)
    ]
    ranked = rows.assign(_urgent=urgent, _on=rows["state"] == "on press")
    ranked = ranked.sort_values(["_urgent", "_on", "mounted_at", "coil_id"], ascending=[False, False, False, True])
    return ranked.drop(columns=["_urgent", "_on"]).reset_index(drop=True)


def _totals(rows: pd.DataFrame, mountings: pd.DataFrame, held: Mapping[str, str]) -> tuple[Number, ...]:
    used, done = float(rows["used_kg"].sum()), rows[rows["coil_yield"].notna()]
    through, good = float(done["used_kg"].sum()), float(done["good_kg"].sum())
    possible = through - float(done["skeleton_kg"].sum())
    weighed = rows[rows["finding"] != UNWEIGHED]
    odd = int((weighed["finding"] == UNEXPLAINED).sum())
    under = sum(bool(hold_on(row, held)) for row in records(rows))
    left = rows[rows["state"] != "used up"]
    coils = say_n(len(rows), "{n} coil", "{n} coils")
    mounted = say_n(len(mountings), "{n} mounting", "{n} mountings")
    return (
        Number(say("Strip used"), heavy(used), (f"{coils}, {mounted}",)),
        Number(
            say("Became good pieces"),
            share(good / through) if through else UNKNOWN,
            (say("{share} of what the dies can give", share=share(good / possible, 2)),) if possible > 0 else (),
        ),
        Number(say("Strip left"), heavy(left["left_kg"].sum()), (say_n(len(left), "in {n} coil", "in {n} coils"),)),
        Number(
            say("Do not add up"),
            count(odd),
            (say_n(len(weighed), "of {n} coil weighed", "of {n} coils weighed"),),
            loud=odd > 0,
        ),
        Number(say("Under hold"), count(under), (say("see below"),) if under else (), loud=under > 0),
    )


def _of_strip(hold_places: Sequence[HoldPlace], view: View) -> list[HoldPlace]:
    """Where holds apply at presses; the coils in store that would fit one press share a line."""
    here = [place for place in hold_places if view.press in ("", *place.presses)]
    waiting: dict[tuple[str, tuple[str, ...]], list[HoldPlace]] = {}
    for place in here:
        if place.kind == NEXT:
            waiting.setdefault((place.hold_id, place.presses), []).append(place)
    together = [replace(some[0], name=_few([place.name for place in some])) for some in waiting.values()]
    return [*(place for place in here if place.kind == MOUNTED), *together]


def _few(names: Sequence[str]) -> str:
    """The first few of some names, and how many more there are."""
    rest = len(names) - _NAMED
    return ", ".join([*names[:_NAMED], *([say_n(rest, "{n} more", "{n} more")] if rest > 0 else [])])


def question(missing: Missing, calendar: Calendar) -> str:
    """What to ask at the press: when the change must have been, and what speaks for it."""
    begun, by, until = (moment(us, calendar) for us in (missing.from_us, missing.by_us, missing.until_us))
    strokes = say_n(missing.strokes, "{n} stroke", "{n} strokes")
    where = {"press": missing.press_id, "coil": missing.coil_id, "begun": begun, "by": by, "until": until}
    if missing.coil_id:
        return say(
            "{press}: coil {coil} had run out between {begun} and {by}. What ran until {until}, {strokes}, is of no"
            " known coil: which one was mounted? Enter the coil change.",
            **where,
            strokes=strokes,
        )
    booked = _few([f"{name} ({say_n(pieces, '{n} piece', '{n} pieces')})" for name, pieces in missing.booked])
    return say(
        "{press}: {strokes} from {begun} to {until} with no coil noted, yet pieces were booked then: {booked}. Which"
        " coil was on? Enter the coil change.",
        **where,
        strokes=strokes,
        booked=booked,
    )


def _ends(reading: LedgerVersion, rows: pd.DataFrame, newest: dt.date) -> dict[str, str]:
    """When each coil on a press runs out, in words, by coil."""
    on = rows[rows["state"] == "on press"]
    if on.empty:
        return {}
    since = (newest - dt.timedelta(days=1)).isoformat()
    mountings, hours = by_press(reading.figure("coils", since)), by_press(reading.figure("hours", since))
    found = {}
    for coil, (press,) in zip(on["coil_id"], on["press_id"], strict=True):
        left = strip_left(mountings.get(press, []), hours.get(press, []))
        if left is not None and left.end is not None:
            found[str(coil)] = _end_words(left.end)
    return found


def _end_words(end: CoilEnd) -> str:
    low, high = (duration(60 * minutes) for minutes in (end.minutes_low, end.minutes_high))
    pieces = say_n(end.pieces, "{n} piece", "{n} pieces")
    if low == high:
        return say("ends in about {low}, {pieces}", low=low, pieces=pieces)
    return say("ends in {low} to {high}, {pieces}", low=low, high=high, pieces=pieces)


# Rows to take away


def _rows(reading: LedgerVersion, view: View) -> pd.DataFrame:
    return reading.exported("coil_ledger", load_coils(reading, view).rows)


def _strip_parts(reading: LedgerVersion, view: View) -> pd.DataFrame:
    whole = load_coils(reading, view).whole
    return pd.DataFrame({"part": list(whole), "kg": list(whole.values())})


def _yields_by(by: str) -> Callable[[LedgerVersion, View], pd.DataFrame]:
    return lambda reading, view: load_coils(reading, view).yields.get(by, pd.DataFrame())


DOWNLOADS: Mapping[str, Callable[[LedgerVersion, View], pd.DataFrame]] = MappingProxyType(
    {
        "coil_ledger": _rows,
        "strip_parts": _strip_parts,
        "yield_by_supplier": _yields_by("supplier"),
        "yield_by_die": _yields_by("die_id"),
        "yield_by_lot": _yields_by("lot"),
    }
)
"""Name of what is taken away -> its rows for a view, those shown."""
