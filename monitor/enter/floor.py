"""What the floor enters: why a press stood, first-offs, work on a die, and notes on a shift."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import pandas as pd

from monitor.enter.entry import Receipt, Row, enter_rows
from monitor.enter.history import REACH_US
from monitor.enter.holds import calendar_of
from monitor.figures import ask
from monitor.ledger import Ledger, Snapshot
from monitor.plant.records import die_change, records
from monitor.reckoning.press.die_events import dies_in_press
from monitor.reckoning.press.overlay import overlay
from monitor.reckoning.press.press_day import EnteredStop
from monitor.reckoning.press.stops import BREAK, CLOSED, NO_SHIFT
from shared.durations import SECOND_US
from shared.errors import RequestError
from shared.phrases import phrase

#: Die events that say what a setting is for, or that it is over.
_SETTING_EVENTS = frozenset({"set", "change", "last_off"})


@dataclass(frozen=True)
class StandstillSpan:
    """A part of a standstill of a press [us]; `to_us` None = up to its end, which has not come."""

    press_id: str
    from_us: int
    to_us: int | None


@dataclass(frozen=True)
class Work:
    """Work on a die; `station` None = all cutting stations."""

    die_id: str
    at_us: int
    work: str = "sharpen"
    station: int | None = None
    removed_mm: float | None = None
    note: str = ""


def give_reason(
    ledger: Ledger, stretches: Sequence[StandstillSpan], reason: str, *, by: str = "", seen: int | None = None
) -> Receipt:
    """Enter one reason for one or several stretches of standing time; see `enter_rows` for `by` and `seen`."""
    return _say(ledger, [(stretch, reason) for stretch in stretches], by, seen)


def stop_at(ledger: Ledger, press_id: str, at_us: int) -> StandstillSpan:
    """Return the stretch of standing time a moment [us] lies in, as the figure `stops` has it: one shift, one reason.

    Raises RequestError where the press did not stand then, or where the plan has it stand.
    """
    day = calendar_of(ledger).plant_day(at_us)
    first, after = (str(day + dt.timedelta(days=days)) for days in (-1, 2))
    stops = ask(ledger.snapshot(), "stops", from_=first, to=after, press=press_id)
    for row in stops.to_dict("records"):
        from_us, to_us = int(row["start_at"]), None if pd.isna(row["end_at"]) else int(row["end_at"])
        if from_us <= at_us and (to_us is None or at_us < to_us):
            if row["reason"] in (BREAK, CLOSED, NO_SHIFT):
                raise _no_stop(press_id, phrase("{reason} at that time", reason=phrase(row["reason"])))
            return StandstillSpan(press_id, from_us, to_us)
    raise _no_stop(press_id, phrase("no stop at that time"))


def _no_stop(press_id: str, seen: str) -> RequestError:
    expected, mend = phrase("a time at which it stood"), phrase("see them with strokeledger figures stops")
    return RequestError(phrase("stop of {press}", press=press_id), seen, expected, mend)


def split_stop(
    ledger: Ledger, stop: StandstillSpan, at_us: int, before: str, after: str, *, by: str = "", seen: int | None = None
) -> Receipt:
    """Enter what a press stood for before and after a moment inside a stop; an empty reason leaves its part as it is.

    Raises RequestError where the moment [us] is not inside.
    """
    if not stop.from_us < at_us < (at_us + 1 if stop.to_us is None else stop.to_us):
        outside = phrase("a time outside of the stop"), phrase("one between its start and its end")
        raise RequestError(phrase("split"), *outside, phrase("give another"))
    parts = [
        (StandstillSpan(stop.press_id, stop.from_us, at_us), before),
        (StandstillSpan(stop.press_id, at_us, stop.to_us), after),
    ]
    return _say(ledger, [(stretch, reason) for stretch, reason in parts if reason], by, seen)


def first_off(ledger: Ledger, press_id: str, at_us: int, *, by: str = "", seen: int | None = None) -> Receipt:
    """Enter that the first piece was found good [us]: setting ends; raises RequestError where no die was set."""

    def rows(snapshot: Snapshot) -> list[Row]:
        setting = _setting(snapshot, press_id, at_us)
        named = {name: setting[name] for name in ("press_id", "die_id", "part_no", "order_id", "outs_running")}
        return [{**named, "time": at_us, "event": "first_off"}]

    return enter_rows(ledger, "die_changes", rows, by=by, seen=seen)


def service(ledger: Ledger, work: Work, *, by: str = "", seen: int | None = None) -> Receipt:
    """Enter work on a die, such as a station that was sharpened."""
    row = {
        "die_id": work.die_id,
        "time": work.at_us,
        "work": work.work,
        "station": work.station,
        "removed_mm": work.removed_mm,
        "note": work.note or None,
    }
    return enter_rows(ledger, "die_service", lambda _: [row], by=by, seen=seen)


def write_note(ledger: Ledger, date: dt.date, shift: str, press_id: str, note: str, *, by: str = "") -> Receipt:
    """Write a note on a shift of a press, or of the plant where `press_id` is empty."""
    now_us = time.time_ns() // 1_000

    def rows(snapshot: Snapshot) -> list[Row]:
        at_us = now_us
        while snapshot.lookup("notes", "note_id", [f"N-{at_us}"]):
            at_us += 1
        about = {"shift_date": date.isoformat(), "shift": shift, "press_id": press_id or None}
        return [{"note_id": f"N-{at_us}", "time": now_us, "note": note, **about}]

    return enter_rows(ledger, "notes", rows, by=by, now_us=now_us)


def _say(ledger: Ledger, said: Sequence[tuple[StandstillSpan, str]], by: str, seen: int | None) -> Receipt:
    if not said:
        chosen = phrase("nothing chosen"), phrase("a stop and a reason"), phrase("choose both")
        raise RequestError(phrase("stops"), *chosen)

    def rows(snapshot: Snapshot) -> list[Row]:
        by_press = {stretch.press_id: [s for s in said if s[0].press_id == stretch.press_id] for stretch, _ in said}
        return [row for press_id, mine in by_press.items() for row in _laid_over(snapshot, press_id, mine)]

    return enter_rows(ledger, "stops", rows, by=by, seen=seen)


def _laid_over(snapshot: Snapshot, press_id: str, said: Sequence[tuple[StandstillSpan, str]]) -> Iterable[Row]:
    """Yield the rows of `stops` that say it for one press."""
    first_us = min(stretch.from_us for stretch, _ in said)
    held = [
        EnteredStop(row["start_at"], row["end_at"], row["reason"])
        for row in records(snapshot.rows("stops", press_id, first_us - REACH_US))
    ]
    now = {row.start_us: row for row in held}
    for stretch, reason in said:
        goes_on = _goes_on(snapshot, stretch)
        written = overlay(list(now.values()), stretch.from_us, stretch.to_us, reason.strip(), goes_on)
        now |= {row.start_us: row for row in written}
    for start_us, row in sorted(now.items()):
        if row not in held:
            yield {"press_id": press_id, "start_at": start_us, "end_at": row.end_us, "reason": row.reason}


def _goes_on(snapshot: Snapshot, stretch: StandstillSpan) -> bool:
    """Whether the press still stood when the stretch ended: the same stop has another part after it."""
    if stretch.to_us is None:
        return False
    date = dt.datetime.fromtimestamp(stretch.to_us // SECOND_US, dt.UTC).date()
    first, after = date - dt.timedelta(days=2), date + dt.timedelta(days=3)
    facts = snapshot.facts("stops", from_date=first, to_date=after, press_id=stretch.press_id)
    ending = set(facts.loc[facts["to_us"] == stretch.to_us, "stop_id"])
    return bool(ending & set(facts.loc[facts["from_us"] == stretch.to_us, "stop_id"]))


def _setting(snapshot: Snapshot, press_id: str, at_us: int) -> Row:
    """Return the last setting of the die in a press at a moment [us]."""
    changes = records(snapshot.rows("die_changes", press_id, None, at_us + 1))
    since = dies_in_press(die_change(row) for row in changes)
    die_id = since[-1][1] if since else ""
    told = (row for row in reversed(changes) if row["die_id"] == die_id and row["event"] in _SETTING_EVENTS)
    last: Row | None = next(told, None)
    if last is None or last["event"] == "last_off":
        raise RequestError(
            phrase("first-off on {press}", press=press_id),
            phrase("no die in the press then"),
            phrase("a die that was set before"),
            phrase("enter it for later"),
        )
    return last
