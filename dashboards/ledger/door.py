"""The data door: the only place that loads.  A reading is one version of the ledger, so a screen agrees with itself."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, cast

import pandas as pd

from dashboards.ledger.ledger_desk import LedgerDesk
from dashboards.ledger.ledger_floor import LedgerFloor, LedgerFloorReading, Noticing
from dashboards.ledger.page import Answer
from dashboards.request.formats import text
from dashboards.request.locale import manner, say, say_again, say_n
from monitor.enter.holds import calendar_of, lift, place, tags_of, traced_of
from monitor.enter.tags import tags_pdf
from monitor.figures import ask_all
from monitor.figures.contradictions import Contradiction, contradicting
from monitor.figures.genealogy.holds import Bearing, history, holds
from monitor.figures.genealogy.holds_in_force import HoldPlace, bites, mounted
from monitor.figures.genealogy.trace import Traced, scopes_of, trace_by
from monitor.figures.judgement.bench import PlantLook
from monitor.figures.judgement.look import look, station_service
from monitor.figures.material.coil_ledger import unspent_coils
from monitor.figures.material.unscanned import Missing, missing_scans
from monitor.figures.question import last_day
from monitor.figures.scope import Scope
from monitor.figures.scope import scope as read_range
from monitor.ledger import Ledger
from monitor.load.counter_clocks import Clock, found
from monitor.load.release import release
from monitor.load.set_aside import mended
from monitor.plant.book import Book, plant_of
from monitor.plant.press_state import press_states
from monitor.reckoning.attribution.suspects import Remembered
from monitor.report.evidence.files import evidence_files
from monitor.report.evidence.sheet import EvidenceQuery
from shared.calendar import Calendar
from shared.words import Words

Question = tuple[str, ...]

MOST_ANSWERS = 256
"""Answers kept of one version before all are forgotten: every range somebody picks is a few."""

_KEYS = {"presses": "press_id", "dies": "die_id", "parts": "part_no", "causes": "cause", "reasons": "reason"}


class LedgerReading:
    """One version of the ledger; remembers each answer and hands out copies."""

    def __init__(
        self,
        ledger: Ledger,
        version: int,
        noticing: Noticing | None = None,
        remembered: Remembered | None = None,
    ) -> None:
        self.version = version
        self._ledger = ledger
        self._remembered = remembered or Remembered()
        self._lock = threading.Lock()
        self._answers: dict[Question, object] = {}
        self._working: dict[Question, threading.Lock] = {}
        self.floor = LedgerFloorReading(ledger.snapshot(version), self._book, self.once, noticing or Noticing())

    def figure(self, name: str, from_: str = "", to: str = "", press: str = "", die: str = "") -> pd.DataFrame:
        """Rows of a figure table; `from_` is included, `to` is not, empty means no bound."""
        return self.figures((name,), from_, to, press, die)[name]

    def figures(
        self, names: Sequence[str], from_: str = "", to: str = "", press: str = "", die: str = ""
    ) -> dict[str, pd.DataFrame]:
        """Rows of several figure tables of one range, quicker than one by one."""
        snapshot = self._ledger.snapshot(self.version)

        def load() -> dict[str, pd.DataFrame]:
            begin, end = from_ or None, to or None
            return ask_all(
                snapshot, names, from_=begin, to=end, press=press or None, die=die or None, book=self._book()
            )

        tables = self.once(("figures", *names, from_, to, press, die), load)
        return {name: table.copy(deep=False) for name, table in tables.items()}

    def press_states(self) -> pd.DataFrame:
        """How each press stands at its newest reading."""
        snapshot = self._ledger.snapshot(self.version)
        return self.once(("press_states",), lambda: press_states(snapshot, self._book())).copy(deep=False)

    def calendar(self) -> Calendar | None:
        """The plant calendar, None before a plant.toml has been loaded; shared, it only adds to what it remembers."""
        return self.once(("calendar",), self._calendar)

    def names(self, table: str, day: dt.date | None = None) -> dict[str, str]:
        """Names of the plant book by id, as on a plant day; without one that of the newest counter reading."""
        return dict(self.once(("names", table, str(day or "")), lambda: self._names(table, day)))

    def rated_per_hour(self, press_id: str, die_id: str, date: dt.date) -> float | None:
        """Pieces an hour at the rated speed, the lower of press and die on that date; None where it is not known."""
        page = self._book().page(date)
        die = page.dies.get(die_id)
        if die is None:
            return None
        press_spm = page.presses.get(press_id, {}).get("rated_spm")
        return 60 * min(die.rated_spm, press_spm or die.rated_spm) * len(die.outs)

    def scopes_of(self, value: str) -> list[str]:
        """What a name is known as: container, shipment, coil, lot, heat."""
        return list(self.once(("scopes", value), lambda: scopes_of(self._ledger.snapshot(self.version), value)))

    def trace(self, scope: str, value: str) -> Traced:
        """Rows of `monitor.figures.genealogy.trace.trace_by` for one thing, and the repacks between the containers."""
        snapshot = self._ledger.snapshot(self.version)
        return self.once(("trace", scope, value), lambda: trace_by(snapshot, scope, value))

    def hold_history(self) -> pd.DataFrame:
        """All holds, lifted ones too, newest first, with who placed and who lifted each."""
        return self.once(("hold_history",), lambda: history(self._ledger.snapshot(self.version))).copy()

    def traced_hold(self, hold_id: str) -> tuple[Traced, Bearing]:
        """The containers and coils a hold bears on, with the ways of the pieces; never change them."""
        return self.once(("traced_hold", hold_id), lambda: traced_of(self._ledger.snapshot(self.version), hold_id))

    def holds(self) -> pd.DataFrame:
        """The holds that stand, newest first."""
        return self.once(("holds",), lambda: holds(self._ledger.snapshot(self.version))).copy()

    def bites(self) -> list[HoldPlace]:
        """Where the holds that stand bite, the most urgent first."""
        return list(self.once(("bites",), lambda: bites(self._ledger.snapshot(self.version))))

    def unspent_coils(self) -> pd.DataFrame:
        """Rows of the figure `coil_ledger` of the coils that are not used up."""
        return self.once(("unspent_coils",), lambda: unspent_coils(self._ledger.snapshot(self.version))).copy()

    def held_at_presses(self) -> list[HoldPlace]:
        """Strip under hold that lies on a press now."""
        return list(self.once(("held_at_presses",), lambda: mounted(self._ledger.snapshot(self.version))))

    def missing_scans(self, from_: str = "", to: str = "", press: str = "") -> list[Missing]:
        """The coil changes that seem not to have been noted, newest first."""

        def load() -> list[Missing]:
            snapshot = self._ledger.snapshot(self.version)
            return missing_scans(snapshot, from_=from_ or None, to=to or None, press=press or None)

        return list(self.once(("missing_scans", from_, to, press), load))

    def contradictions(self, from_: str = "", to: str = "", press: str = "", die: str = "") -> list[Contradiction]:
        """The sets of rows in range that cannot all be true, in order of time."""

        def load() -> list[Contradiction]:
            snapshot, asked = self._ledger.snapshot(self.version), [text or None for text in (from_, to, press, die)]
            return contradicting(snapshot, from_=asked[0], to=asked[1], press=asked[2], die=asked[3])

        return list(self.once(("contradictions", from_, to, press, die), load))

    def look(self, from_: str, to: str) -> PlantLook:
        """What moves the scrap of every die and cause, with the inspections behind it; never change it."""
        snapshot = self._ledger.snapshot(self.version)

        def load() -> PlantLook:
            return look(snapshot, from_=from_ or None, to=to or None, remembered=self._remembered)

        return self.once(("look", from_, to), load)

    def station_service(self, seen: PlantLook, die: str) -> pd.DataFrame:
        """Rows of the figure `service` of one die, from inspections that were looked at already."""
        snapshot = self._ledger.snapshot(self.version)
        return self.once(("service", seen.from_, seen.to, die), lambda: station_service(snapshot, seen, die)).copy()

    def evidence_files(self, seen: PlantLook, asked: EvidenceQuery, words: Words) -> dict[str, bytes]:
        """The evidence sheet of a line as PDF, its rows and all lines as CSV, by file name."""
        return evidence_files(self._ledger.snapshot(self.version), self._ledger.root, seen, asked, words)

    def clocks(self) -> dict[str, Clock]:
        """What loads have found of the clocks of counters, by press."""
        return dict(self.once(("clocks",), lambda: found(self._ledger.keeper)))

    def once(self, question: Question, load: Callable[[], Answer]) -> Answer:
        """What `load` gives, worked out once for everybody; never change it."""
        with self._lock:
            if question in self._answers:
                return cast(Answer, self._answers[question])
            # Fifty viewers ask at once for what has just changed: one works it out, the others wait for it.
            gate = self._working.setdefault(question, threading.Lock())
        with gate:
            with self._lock:
                if question in self._answers:
                    return cast(Answer, self._answers[question])
            answer = load()
            with self._lock:
                if len(self._answers) >= MOST_ANSWERS:
                    self._answers.clear()
                self._answers[question] = answer
                self._working.pop(question, None)
            return answer

    def _calendar(self) -> Calendar | None:
        return self._book().calendar if self._plant_text() else None

    def _plant_text(self) -> str | None:
        return self._ledger.snapshot(self.version).plant_text()

    def _book(self) -> Book:
        snapshot = self._ledger.snapshot(self.version)
        return self.once(("book",), lambda: Book.read(snapshot, plant_of(self._plant_text())))

    def _names(self, table: str, day: dt.date | None) -> dict[str, str]:
        book = self._book()
        day = day or last_day(self._ledger.snapshot(self.version), book, Scope())
        return {str(row[_KEYS[table]]): text(row["name"]) for row in book.rows_on(table, day)}


def _opened(path: Path) -> Ledger:
    """Open a ledger, reckoned by the rules of this release."""
    ledger = Ledger.open(path)
    if not ledger.snapshot().is_reckoned:
        from monitor.load.upgrade import bring_up  # What loads takes a while to import, and is rarely wanted.

        bring_up(ledger)
    return ledger


class LedgerDoor:
    """Hands out the reading of the newest version, the same one to everybody while the ledger stays as it is."""

    def __init__(self, ledger_path: Path) -> None:
        self._ledger = _opened(ledger_path)
        self._noticing = Noticing()
        # A new version is looked at anew only for the dies and causes with new inspections.
        self._remembered = Remembered()
        self._reading = LedgerReading(self._ledger, self._ledger.version, self._noticing, self._remembered)
        self.desk = LedgerDesk(self._ledger)
        self.floor = LedgerFloor(self._ledger)

    def read(self) -> LedgerReading:
        """The newest version."""
        version = self._ledger.version
        reading = self._reading
        if reading.version != version:
            reading = self._reading = LedgerReading(self._ledger, version, self._noticing, self._remembered)
        return reading

    def place_hold(self, scope: str, value: str, reason: str, by: str, from_: str = "", to: str = "") -> str:
        """Place a hold, on a die or press over some plant time; its number."""
        asked = read_range(calendar_of(self._ledger), from_ or None, to or None)
        return place(self._ledger, scope, value=value, reason=reason, span=(asked.from_us, asked.to_us), by=by)

    def hold_tags(self, hold_id: str) -> bytes:
        """Tags of a hold as a PDF, empty where nothing of it is here."""
        words = manner().words
        tags = tags_of(self._ledger, hold_id, words)
        return tags_pdf(tags, words) if tags else b""

    def watch(self) -> dict[str, Any]:
        """What the watch of a folder last said of itself, empty where none was ever watched."""
        return self._ledger.keeper.seen.told()

    def release_rows(
        self, rows: Mapping[int, str | None], values: Mapping[str, str], by: str, correct: bool
    ) -> tuple[str, int]:
        """Let in rows that were set aside, mended or with values put in; what became of them, and the version."""
        wanted = dict(rows)
        if values:
            held = self._ledger.snapshot().set_aside_rows()
            held = held[held["id"].isin(list(wanted))]
            wanted |= {int(number): mended(row, values) for number, row in zip(held["id"], held["row"], strict=True)}
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
