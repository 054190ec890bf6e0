"""The floor over a ledger: what it answers, what is entered, and what is noticed in the background."""

from __future__ import annotations

import datetime as dt
import logging
import threading
import time
from collections.abc import Callable, Sequence
from typing import Protocol, TypeVar

import pandas as pd

from dashboards.ledger.floor import FloorSigns
from monitor.enter.entry import Receipt, undo
from monitor.enter.floor import StandingStretch, Work, first_off, give_reason, service, split_stop, write_note
from monitor.enter.history import HistoryEntry, history
from monitor.figures.judgement.alarms import alarms
from monitor.figures.judgement.edge_life import edges_left
from monitor.handover import HandOver, hand_over
from monitor.handover.paper import hand_over_pdf
from monitor.handover.sheet import HandoverSheet
from monitor.ledger import Ledger, Snapshot
from monitor.plant.book import Book
from monitor.plant.order_pace import OrderPace, order_paces
from monitor.reckoning.press.carry import from_json
from shared.durations import DAY_US
from shared.words import Words

_log = logging.getLogger(__name__)

_Answer = TypeVar("_Answer")


class Once(Protocol):
    """Works an answer out once for everybody."""

    def __call__(self, question: tuple[str, ...], load: Callable[[], _Answer]) -> _Answer:
        """What `load` gives."""


class Noticing:
    """Works out what takes a moment in a thread of its own, for the newest version asked for, one at a time."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._latest = FloorSigns()
        self._at_work = False

    def of(self, snapshot: Snapshot, book: Callable[[], Book]) -> FloorSigns:
        """What was noticed last; begins to look at this version where that was another."""
        with self._lock:
            if self._latest.version != snapshot.version and not self._at_work:
                self._at_work = True
                asked = (snapshot, book)
                threading.Thread(target=self._look, args=asked, name="strokeledger-notice", daemon=True).start()
            return self._latest

    def _look(self, snapshot: Snapshot, book: Callable[[], Book]) -> None:
        try:
            found = _noticed(snapshot, book())
        except Exception:
            _log.exception("alarms and edges could not be looked at")
            found = FloorSigns(snapshot.version)
        with self._lock:
            self._latest, self._at_work = found, False


class LedgerFloorReading:
    """The floor in one version of the ledger; answers are kept by the reading it belongs to."""

    def __init__(self, snapshot: Snapshot, book: Callable[[], Book], once: Once, noticing: Noticing) -> None:
        self._snapshot = snapshot
        self._book = book
        self._once = once
        self._noticing = noticing

    def rejects(self, from_: str, to: str, press: str) -> pd.DataFrame:
        """Stretches in which rejects were found: press_id, from_us, to_us, kind, causes, rejected, inspected."""
        return self._once(("rejects", from_, to, press), lambda: _rejects(self._snapshot, from_, to, press)).copy()

    def unresolved(self, from_: str, to: str, press: str) -> pd.DataFrame:
        """Stretches in which nobody saw whether a press ran: press_id, die_id, shift_date, shift, from_us, to_us."""
        begin, end = (dt.date.fromisoformat(date) if date else None for date in (from_, to))
        facts = self._once(
            ("unresolved", from_, to, press),
            lambda: self._snapshot.facts("unresolved", begin, end, press_id=press or None),
        )
        return facts.copy(deep=False)

    def stops_by_reason(self, since: dt.date) -> pd.DataFrame:
        """How many stops of shifts since a date have each reason: press_id, reason, kind, stops."""
        asked = ("stops_by_reason", since.isoformat())
        return self._once(asked, lambda: self._snapshot.stops_by_reason(since)).copy(deep=False)

    def orders(self) -> dict[str, OrderPace]:
        """How far the order on each press is."""
        return dict(self._once(("orders",), lambda: order_paces(self._snapshot, self._book().calendar)))

    def noticed(self) -> FloorSigns:
        """What was noticed last, of this version or one before; a newer one is on its way."""
        return self._noticing.of(self._snapshot, self._book)

    def history(self, tables: Sequence[str], from_us: int, to_us: int, press: str | None) -> list[HistoryEntry]:
        """What was entered by hand about a stretch of time, newest first."""
        return history(self._snapshot, tables, from_us, to_us, press)

    def hand_over(self, date: dt.date | None, shift: str, press: str) -> HandOver:
        """What a shift hands over."""
        asked = ("hand_over", str(date), shift, press)
        return self._once(asked, lambda: hand_over(self._snapshot, date, shift, press))


class LedgerFloor:
    """Enters what the floor says."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger

    def give_reason(self, stretches: Sequence[StandingStretch], reason: str, by: str, seen: int) -> Receipt:
        """Enter one reason for one or several stretches of standing time."""
        return give_reason(self._ledger, stretches, reason, by=by, seen=seen)

    def split_stop(self, stop: StandingStretch, at_us: int, before: str, after: str, by: str, seen: int) -> Receipt:
        """Enter what a press stood for before and after a moment inside a stop."""
        return split_stop(self._ledger, stop, at_us, before, after, by=by, seen=seen)

    def first_off(self, press: str, at_us: int, by: str) -> Receipt:
        """Enter that the first piece was found good."""
        return first_off(self._ledger, press, at_us, by=by)

    def service(self, work: Work, by: str) -> Receipt:
        """Enter work on a die."""
        return service(self._ledger, work, by=by)

    def write_note(self, date: dt.date, shift: str, press: str, note: str, by: str) -> Receipt:
        """Write a note on a shift."""
        return write_note(self._ledger, date, shift, press, note, by=by)

    def undo(self, load_id: int, by: str) -> Receipt:
        """Take an entry back."""
        return undo(self._ledger, load_id, by=by)

    def hand_over_pdf(self, shown: HandoverSheet, plant: str, words: Words) -> bytes:
        """The hand-over on paper."""
        return hand_over_pdf(shown, plant, words, int(time.time()))


def _rejects(snapshot: Snapshot, from_: str, to: str, press: str) -> pd.DataFrame:
    dates = [dt.date.fromisoformat(text) if text else None for text in (from_, to)]
    facts = snapshot.facts("rejects", from_date=dates[0], to_date=dates[1], press_id=press or None)
    keys = ["press_id", "inspection_id", "kind"]
    spans = facts.groupby(keys, as_index=False).agg(
        from_us=("from_us", "min"),
        to_us=("to_us", "max"),
        rejected=("rejected", "sum"),
        inspected=("inspected", "sum"),
        causes=("cause", lambda causes: ", ".join(sorted(set(causes) - {""}))),
    )
    return spans[spans["rejected"] > 0].reset_index(drop=True)


def _noticed(snapshot: Snapshot, book: Book) -> FloorSigns:
    carries = [from_json(text) for text in snapshot.last_carries().values()]
    newest_us = max((carry.last.time_us for carry in carries if carry.last), default=0)
    if not newest_us:
        return FloorSigns(snapshot.version)
    running = book.calendar.shifts("", newest_us - DAY_US, newest_us)[-1:]
    since_us = running[0].start_us if running else newest_us - DAY_US // 3
    since = running[0].shift_date if running else book.calendar.plant_day(newest_us)
    called = alarms(snapshot, since, since_us, newest_us + 1)
    return FloorSigns(snapshot.version, called, edges_left(snapshot, book, newest_us))
