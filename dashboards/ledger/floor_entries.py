"""Where a page enters what the floor says: reasons of stops, first-offs, die service, notes, undo."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Sequence

from monitor.enter.entry import Receipt, undo
from monitor.enter.floor import StandstillSpan, Work, first_off, give_reason, service, split_stop, write_note
from monitor.handover.paper import hand_over_pdf
from monitor.handover.sheet import HandoverSheet
from monitor.ledger import Ledger
from shared.words import Words

__all__ = ["FloorEntries", "Receipt", "StandstillSpan", "Work"]


class FloorEntries:
    """Where a page enters what the floor says; `by` is who, `seen` the version they looked at.

    All raise Overtaken where somebody else has entered something about the same since, and RequestError where it does
    not hold.
    """

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger

    def give_reason(self, stretches: Sequence[StandstillSpan], reason: str, by: str, seen: int) -> Receipt:
        """Enter one reason for one or several stretches of standing time."""
        return give_reason(self._ledger, stretches, reason, by=by, seen=seen)

    def split_stop(self, stop: StandstillSpan, at_us: int, before: str, after: str, by: str, seen: int) -> Receipt:
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
