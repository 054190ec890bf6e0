"""The ledger as the screens are given it: its newest version, and where people enter something."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from dashboards.ledger.answers import MOST_BYTES, AnswerCache
from dashboards.ledger.floor_entries import FloorEntries
from dashboards.ledger.floor_queries import SignsWorker
from dashboards.ledger.quality_desk import QualityDesk
from dashboards.ledger.version import LedgerVersion
from dashboards.request.locale import locale, say, say_again, say_n
from monitor.enter.holds import calendar_of, lift, place, tags_of
from monitor.enter.tags import tags_pdf
from monitor.figures.scope import scope as read_range
from monitor.ledger import Ledger
from monitor.load.release import release
from monitor.load.set_aside import edited_row
from monitor.reckoning.attribution.suspects import Remembered


def _opened(path: Path) -> Ledger:
    """Open a ledger, reckoned by the rules of this release."""
    ledger = Ledger.open(path)
    if not ledger.snapshot().is_reckoned:
        from monitor.load.upgrade import upgrade_facts  # What loads takes a while to import, and is rarely wanted.

        upgrade_facts(ledger)
    return ledger


class LedgerService:
    """Where a page gets the newest version of the ledger, the same for everybody, and enters what a person decides."""

    def __init__(self, ledger_path: Path, most_bytes: int = MOST_BYTES) -> None:
        self._ledger = _opened(ledger_path)
        self.answers = AnswerCache(most_bytes)
        self._signs = SignsWorker()
        # A new version is looked at anew only for the dies and causes with new inspections.
        self._remembered = Remembered()
        self._newest = self._version(self._ledger.version)
        self.desk = QualityDesk(self._ledger, self.answers)
        self.floor = FloorEntries(self._ledger)

    def read(self) -> LedgerVersion:
        """The newest version; what was worked out for older ones is forgotten."""
        number = self._ledger.version
        newest = self._newest
        if newest.version != number:
            newest = self._newest = self._version(number)
            self.answers.drop_before(number)
        return newest

    def _version(self, number: int) -> LedgerVersion:
        return LedgerVersion(self._ledger, number, self.answers, self._signs, self._remembered)

    def place_hold(self, scope: str, value: str, reason: str, by: str, from_: str = "", to: str = "") -> str:
        """Place a hold, on a die or press over some plant time; its number."""
        asked = read_range(calendar_of(self._ledger), from_ or None, to or None)
        return place(self._ledger, scope, value=value, reason=reason, span=(asked.from_us, asked.to_us), by=by)

    def hold_tags(self, hold_id: str) -> bytes:
        """Tags of a hold as a PDF, empty where nothing of it is here."""
        words = locale().words
        tags = tags_of(self._ledger, hold_id, words)
        return tags_pdf(tags, words) if tags else b""

    def watch(self) -> dict[str, Any]:
        """What the watch of a folder last said of itself, empty where none was ever watched."""
        return self._ledger.keeper.seen.read_status()

    def release_rows(
        self, rows: Mapping[int, str | None], values: Mapping[str, str], by: str, correct: bool
    ) -> tuple[str, int]:
        """Let in rows that were set aside, mended or with values put in; what became of them, and the version."""
        wanted = dict(rows)
        if values:
            held = self._ledger.snapshot().set_aside_rows()
            held = held[held["id"].isin(list(wanted))]
            wanted |= {
                int(number): edited_row(row, values) for number, row in zip(held["id"], held["row"], strict=True)
            }
        done = release(self._ledger, wanted, by=by, correct=correct)
        stay = len(done.stay) + len(done.unknown)
        told = [say_n(done.taken, "{n} row let in.", "{n} rows let in."), say_n(stay, "{n} stays.", "{n} stay.")]
        reasons = dict.fromkeys(
            say("Row {number}: {reason}.", number=number, reason=say_again(why)) for number, why in done.stay.items()
        )
        return " ".join([*told, *list(reasons)[:3]]), done.version

    def lift_hold(self, hold_id: str, outcome: str, by: str) -> None:
        """Lift a hold."""
        lift(self._ledger, hold_id, outcome, by)
