"""One version of the ledger: whatever a page asks of it agrees with everything else it asks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from functools import cached_property

import pandas as pd

from dashboards.ledger.answers import Answer, AnswerCache
from dashboards.ledger.floor_queries import FloorQueries, SignsWorker
from dashboards.request.formats import text
from monitor.enter.holds import traced_of
from monitor.figures import FIGURES, ask_all
from monitor.figures.bounds import with_local_times
from monitor.figures.contradictions import Contradiction, contradicting
from monitor.figures.genealogy.holds import HeldPieces, history, holds
from monitor.figures.genealogy.holds_in_force import HoldPlace, hold_places, mounted
from monitor.figures.genealogy.search import scopes_of, trace_by
from monitor.figures.genealogy.trace import Traced
from monitor.figures.judgement.bench import PlantLook
from monitor.figures.judgement.look import look, station_service
from monitor.figures.material.coil_ledger import unspent_coils
from monitor.figures.material.unscanned import Missing, missing_scans
from monitor.figures.question import last_day
from monitor.figures.scope import Bound, Scope
from monitor.ledger import Ledger
from monitor.load.counter_clocks import Clock, found
from monitor.plant.book import Book, plant_of
from monitor.plant.press_state import press_states
from monitor.reckoning.attribution.suspects import Remembered
from monitor.report.evidence.files import evidence_files
from monitor.report.evidence.sheet import EvidenceQuery
from shared.calendar import Calendar
from shared.words import Words

Question = tuple[str, ...]

_KEYS = {"presses": "press_id", "dies": "die_id", "parts": "part_no", "causes": "cause", "reasons": "reason"}


class LedgerVersion:
    """What a page may ask of one version of the ledger; an answer is kept for everybody and handed out as a copy."""

    def __init__(
        self, ledger: Ledger, version: int, answers: AnswerCache, signs: SignsWorker, remembered: Remembered
    ) -> None:
        self.version = version
        self._ledger = ledger
        self._answers = answers
        self._remembered = remembered
        self.floor = FloorQueries(ledger.snapshot(version), lambda: self._book, answers, signs)

    def figure(self, name: str, from_: Bound = "", to: Bound = "", press: str = "", die: str = "") -> pd.DataFrame:
        """Rows of a figure table; `from_` is included, `to` is not, empty means no bound."""
        return self.figures((name,), from_, to, press, die)[name]

    def figures(
        self, names: Sequence[str], from_: Bound = "", to: Bound = "", press: str = "", die: str = ""
    ) -> dict[str, pd.DataFrame]:
        """Rows of several figure tables of one range, quicker than one by one."""
        snapshot = self._ledger.snapshot(self.version)

        def load() -> dict[str, pd.DataFrame]:
            begin, end = from_ or None, to or None
            return ask_all(snapshot, names, from_=begin, to=end, press=press or None, die=die or None, book=self._book)

        tables = self.cached(("figures", *names, str(from_), str(to), press, die), load)
        return {name: table.copy(deep=False) for name, table in tables.items()}

    @property
    def clock(self) -> Calendar:
        """The calendar by whose clock times are written: the plant's, UTC before a plant.toml has been loaded."""
        return self._book.calendar

    def exported(self, name: str, table: pd.DataFrame) -> pd.DataFrame:
        """Rows of a figure table as they are taken away: times as ISO 8601 text with the plant's offset."""
        return with_local_times(FIGURES[name], table, self._book.calendar)

    def press_states(self) -> pd.DataFrame:
        """How each press stands at its newest reading."""
        snapshot = self._ledger.snapshot(self.version)
        return self.cached(("press_states",), lambda: press_states(snapshot, self._book)).copy(deep=False)

    def calendar(self) -> Calendar | None:
        """The plant calendar, None before a plant.toml has been loaded; shared, it only adds to what it remembers."""
        return self._book.calendar if self._plant_text else None

    def names(self, table: str, day: dt.date | None = None) -> dict[str, str]:
        """Names of the plant book by id, as on a plant day; without one that of the newest counter reading."""
        return dict(self.cached(("names", table, str(day or "")), lambda: self._names(table, day)))

    def rated_per_hour(self, press_id: str, die_id: str, date: dt.date) -> float | None:
        """Pieces an hour at the rated speed, the lower of press and die on that date; None where it is not known."""
        page = self._book.page(date)
        die = page.dies.get(die_id)
        if die is None:
            return None
        press_spm = page.presses.get(press_id, {}).get("rated_spm")
        return 60 * min(die.rated_spm, press_spm or die.rated_spm) * len(die.outs)

    def scopes_of(self, value: str) -> list[str]:
        """What a name is known as: container, shipment, coil, lot, heat."""
        return list(self.cached(("scopes", value), lambda: scopes_of(self._ledger.snapshot(self.version), value)))

    def trace(self, scope: str, value: str) -> Traced:
        """Rows of `monitor.figures.genealogy.trace.trace_by` for one thing, and the repacks between the containers."""
        snapshot = self._ledger.snapshot(self.version)
        return self.cached(("trace", scope, value), lambda: trace_by(snapshot, scope, value))

    def hold_history(self) -> pd.DataFrame:
        """All holds, lifted ones too, newest first, with who placed and who lifted each."""
        return self.cached(("hold_history",), lambda: history(self._ledger.snapshot(self.version))).copy()

    def traced_hold(self, hold_id: str) -> tuple[Traced, HeldPieces]:
        """The containers and coils a hold bears on, with the ways of the pieces; never change them."""
        return self.cached(("traced_hold", hold_id), lambda: traced_of(self._ledger.snapshot(self.version), hold_id))

    def holds(self) -> pd.DataFrame:
        """The holds that stand, newest first."""
        return self.cached(("holds",), lambda: holds(self._ledger.snapshot(self.version))).copy()

    def hold_places(self) -> list[HoldPlace]:
        """Where holds in force apply, the most urgent first."""
        return list(self.cached(("hold_places",), lambda: hold_places(self._ledger.snapshot(self.version))))

    def unspent_coils(self) -> pd.DataFrame:
        """Rows of the figure `coil_ledger` of the coils that are not used up."""
        return self.cached(
            ("unspent_coils",),
            lambda: unspent_coils(self._ledger.snapshot(self.version)),
        ).copy()

    def held_at_presses(self) -> list[HoldPlace]:
        """Strip under hold that lies on a press now."""
        return list(self.cached(("held_at_presses",), lambda: mounted(self._ledger.snapshot(self.version))))

    def missing_scans(self, from_: Bound = "", to: Bound = "", press: str = "") -> list[Missing]:
        """The coil changes that seem not to have been noted, newest first."""

        def load() -> list[Missing]:
            snapshot = self._ledger.snapshot(self.version)
            return missing_scans(snapshot, from_=from_ or None, to=to or None, press=press or None)

        return list(self.cached(("missing_scans", str(from_), str(to), press), load))

    def contradictions(self, from_: Bound = "", to: Bound = "", press: str = "", die: str = "") -> list[Contradiction]:
        """The sets of rows in range that cannot all be true, in order of time."""

        def load() -> list[Contradiction]:
            snapshot = self._ledger.snapshot(self.version)
            return contradicting(snapshot, from_=from_, to=to, press=press or None, die=die or None)

        return list(self.cached(("contradictions", str(from_), str(to), press, die), load))

    def look(self, from_: Bound, to: Bound) -> PlantLook:
        """What moves the scrap of every die and cause, with the inspections behind it; never change it."""
        snapshot = self._ledger.snapshot(self.version)

        def load() -> PlantLook:
            return look(snapshot, from_=from_ or None, to=to or None, remembered=self._remembered)

        return self.cached(("look", str(from_), str(to)), load)

    def station_service(self, seen: PlantLook, die: str) -> pd.DataFrame:
        """Rows of the figure `service` of one die, from inspections that were looked at already."""
        snapshot = self._ledger.snapshot(self.version)
        return self.cached(
            ("service", str(seen.from_), str(seen.to), die),
            lambda: station_service(snapshot, seen, die),
        ).copy()

    def evidence_files(self, seen: PlantLook, asked: EvidenceQuery, words: Words) -> dict[str, bytes]:
        """The evidence sheet of a line as PDF, its rows and all lines as CSV, by file name."""
        return evidence_files(self._ledger.snapshot(self.version), self._ledger.root, seen, asked, words)

    def clocks(self) -> dict[str, Clock]:
        """What loads have found of the clocks of counters, by press."""
        return dict(self.cached(("clocks",), lambda: found(self._ledger.keeper)))

    def cached(self, question: Question, load: Callable[[], Answer]) -> Answer:
        """What `load` gives, worked out once for everybody; never change it."""
        return self._answers.answer(self.version, question, load)

    @cached_property
    def _plant_text(self) -> str | None:
        return self._ledger.snapshot(self.version).plant_text()

    @cached_property
    def _book(self) -> Book:
        return Book.read(self._ledger.snapshot(self.version), plant_of(self._plant_text))

    def _names(self, table: str, day: dt.date | None) -> dict[str, str]:
        book = self._book
        day = day or last_day(self._ledger.snapshot(self.version), book, Scope())
        return {str(row[_KEYS[table]]): text(row["name"]) for row in book.rows_on(table, day)}
