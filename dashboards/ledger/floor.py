"""What pages may ask about the floor, and enter for it: reasons of stops, first-offs, die service, notes, undo."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import pandas as pd

from dashboards.request.formats import us
from monitor.enter.entry import Receipt
from monitor.enter.floor import StandingStretch, Work
from monitor.enter.history import HistoryEntry
from monitor.handover import HandOver
from monitor.handover.sheet import HandoverSheet
from monitor.plant.order_pace import OrderPace
from shared.words import Words

__all__ = ["Floor", "FloorReading", "FloorSigns", "Pick", "Receipt", "StandingStretch", "Work", "pack", "unpack"]

MOST_PICKS = 200
"""Stops given a reason at once; more is no choice but an accident."""


@dataclass(frozen=True)
class Pick:
    """A stretch of standing time picked on a screen: press, start and end as ISO 8601 text, "" while it lasts."""

    press: str
    start: str
    end: str = ""

    @property
    def stretch(self) -> StandingStretch | None:
        """The stretch in microseconds, None where a time cannot be read."""
        try:
            from_us, to_us = us(self.start), us(self.end) if self.end else None
        except ValueError:
            return None
        if from_us is None or (self.end and (to_us is None or to_us <= from_us)):
            return None
        return StandingStretch(self.press, from_us, to_us)


def pack(picks: Iterable[Pick]) -> str:
    """Picks as text for an attribute; `unpack` reads it back."""
    return json.dumps([[pick.press, pick.start, pick.end] for pick in picks], ensure_ascii=False)


def unpack(packed: object) -> tuple[Pick, ...]:
    """Picks of a text that a browser sent; what cannot be read is left out."""
    try:
        rows = json.loads(packed) if isinstance(packed, str) else None
    except ValueError:
        rows = None
    if not isinstance(rows, list):
        return ()
    picks = (_pick(row) for row in rows[:MOST_PICKS])
    return tuple(pick for pick in picks if pick is not None and pick.stretch is not None)


def _pick(row: object) -> Pick | None:
    fits = isinstance(row, list) and len(row) == 3 and all(isinstance(cell, str) for cell in row)
    return Pick(*row) if fits and isinstance(row, list) else None


@dataclass(frozen=True)
class FloorSigns:
    """What takes a moment to work out, as of a version: alarms and strokes to sharpening.

    `to_sharpen` is, by die, the fewest strokes left at any of its stations and the interval they are part of.
    """

    version: int = -1
    alarms: pd.DataFrame = field(default_factory=pd.DataFrame)
    to_sharpen: Mapping[str, tuple[int, int]] = field(default_factory=dict)


class FloorReading(Protocol):
    """What a page may ask about the floor in one version of the ledger."""

    def rejects(self, from_: str, to: str, press: str) -> pd.DataFrame:
        """Stretches in which rejects were found: press_id, from_us, to_us, kind, causes, rejected, inspected."""

    def unresolved(self, from_: str, to: str, press: str) -> pd.DataFrame:
        """Stretches in which nobody saw whether a press ran: press_id, die_id, shift_date, shift, from_us, to_us."""

    def stops_by_reason(self, since: dt.date) -> pd.DataFrame:
        """How many stops of shifts since a date have each reason: press_id, reason, kind, stops."""

    def orders(self) -> dict[str, OrderPace]:
        """How far the order on each press is."""

    def noticed(self) -> FloorSigns:
        """What was noticed last, of this version or one before; a newer one is on its way."""

    def history(self, tables: Sequence[str], from_us: int, to_us: int, press: str | None) -> list[HistoryEntry]:
        """What was entered by hand about a stretch of time, newest first."""

    def hand_over(self, date: dt.date | None, shift: str, press: str) -> HandOver:
        """What a shift hands over."""


class Floor(Protocol):
    """Where a page enters what the floor says; `by` is who, `seen` the version they looked at.

    All raise Overtaken where somebody else has entered something about the same since, and RequestError where it does
    not hold.
    """

    def give_reason(self, stretches: Sequence[StandingStretch], reason: str, by: str, seen: int) -> Receipt:
        """Enter one reason for one or several stretches of standing time."""

    def split_stop(self, stop: StandingStretch, at_us: int, before: str, after: str, by: str, seen: int) -> Receipt:
        """Enter what a press stood for before and after a moment inside a stop."""

    def first_off(self, press: str, at_us: int, by: str) -> Receipt:
        """Enter that the first piece was found good."""

    def service(self, work: Work, by: str) -> Receipt:
        """Enter work on a die."""

    def write_note(self, date: dt.date, shift: str, press: str, note: str, by: str) -> Receipt:
        """Write a note on a shift."""

    def undo(self, load_id: int, by: str) -> Receipt:
        """Take an entry back."""

    def hand_over_pdf(self, shown: HandoverSheet, plant: str, words: Words) -> bytes:
        """The hand-over on paper."""
