"""What a page may ask about the floor in one version of the ledger; alarms are worked out in the background."""

from __future__ import annotations

import datetime as dt
import logging
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import pandas as pd

from dashboards.ledger.answers import Answer, AnswerCache
from monitor.enter.history import HistoryEntry, history
from monitor.figures.judgement.alarms import alarms
from monitor.figures.judgement.edge_life import edges_left
from monitor.handover import HandOver, hand_over
from monitor.ledger import Snapshot
from monitor.plant.book import Book
from monitor.plant.carries import newest_reading_us
from monitor.plant.order_pace import OrderPace, order_paces
from shared.durations import DAY_US

_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class FloorSigns:
    """What takes a moment to work out, as of a version: alarms and strokes to sharpening.

    `to_sharpen` is, by die, the fewest strokes left at any of its stations and the interval they are part of.
    """

    version: int = -1
    alarms: pd.DataFrame = field(default_factory=pd.DataFrame)
    to_sharpen: Mapping[str, tuple[int, int]] = field(default_factory=dict)


class SignsWorker:
    """Works out alarms and edges in a thread of its own, for the newest version asked for, one at a time."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._latest = FloorSigns()
        self._at_work = False

    def of(self, snapshot: Snapshot, book: Callable[[], Book]) -> FloorSigns:
        """The signs found last; begins to look at this version where they are of another."""
        with self._lock:
            if self._latest.version != snapshot.version and not self._at_work:
                self._at_work = True
                asked = (snapshot, book)
                threading.Thread(target=self._look, args=asked, name="strokeledger-signs", daemon=True).start()
            return self._latest

    def _look(self, snapshot: Snapshot, book: Callable[[], Book]) -> None:
        try:
            found = _signs_of(snapshot, book())
        except Exception:
            _log.exception("alarms and edges could not be looked at")
            found = FloorSigns(snapshot.version)
        with self._lock:
            self._latest, self._at_work = found, False


class FloorQueries:
    """What a page may ask about the floor in one version of the ledger."""

    def __init__(self, snapshot: Snapshot, book: Callable[[], Book], answers: AnswerCache, signs: SignsWorker) -> None:
        self._snapshot = snapshot
        self._book = book
        self._answers = answers
        self._signs = signs

    def rejects(self, from_: str, to: str, press: str) -> pd.DataFrame:
        """Stretches in which rejects were found: press_id, from_us, to_us, kind, causes, rejected, inspected."""
        return self._cached(("rejects", from_, to, press), lambda: _rejects(self._snapshot, from_, to, press)).copy()

    def unresolved(self, from_: str, to: str, press: str) -> pd.DataFrame:
        """Stretches in which nobody saw whether a press ran: press_id, die_id, shift_date, shift, from_us, to_us."""
        begin, end = (dt.date.fromisoformat(date) if date else None for date in (from_, to))
        facts = self._cached(
            ("unresolved", from_, to, press),
            lambda: self._snapshot.facts("unresolved", begin, end, press_id=press or None),
        )
        return facts.copy(deep=False)

    def stops_by_reason(self, since: dt.date) -> pd.DataFrame:
        """How many stops of shifts since a date have each reason: press_id, reason, kind, stops."""
        asked = ("stops_by_reason", since.isoformat())
        return self._cached(asked, lambda: self._snapshot.stops_by_reason(since)).copy(deep=False)

    def orders(self) -> dict[str, OrderPace]:
        """How far the order on each press is."""
        return dict(self._cached(("orders",), lambda: order_paces(self._snapshot, self._book().calendar)))

    def signs(self) -> FloorSigns:
        """The signs found last, of this version or one before; newer ones are on their way."""
        return self._signs.of(self._snapshot, self._book)

    def history(self, tables: Sequence[str], from_us: int, to_us: int, press: str | None) -> list[HistoryEntry]:
        """What was entered by hand about a stretch of time, newest first."""
        return history(self._snapshot, tables, from_us, to_us, press)

    def hand_over(self, date: dt.date | None, shift: str, press: str) -> HandOver:
        """What a shift hands over."""
        asked = ("hand_over", str(date), shift, press)
        return self._cached(asked, lambda: hand_over(self._snapshot, date, shift, press))

    def _cached(self, question: tuple[str, ...], load: Callable[[], Answer]) -> Answer:
        return self._answers.answer(self._snapshot.version, question, load)


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


def _signs_of(snapshot: Snapshot, book: Book) -> FloorSigns:
    newest_us = newest_reading_us(snapshot)
    if not newest_us:
        return FloorSigns(snapshot.version)
    running = book.calendar.shifts("", newest_us - DAY_US, newest_us)[-1:]
    since_us = running[0].start_us if running else newest_us - DAY_US // 3
    since = running[0].shift_date if running else book.calendar.plant_day(newest_us)
    called = alarms(snapshot, since, since_us, newest_us + 1)
    return FloorSigns(snapshot.version, called, edges_left(snapshot, book, newest_us))
