"""Writing what folds leave behind: facts, carries and rejects, in the place of earlier ones of their days."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pyarrow as pa
import sqlalchemy as sa

from monitor.ledger.catalog.database import read_about, write_about
from monitor.ledger.catalog.schema import FACT_ROWS, FOLDS, live
from monitor.ledger.row_writer import RowWriter
from shared.facts import FACTS, RECKONING, Fact, FoldFacts, RejectFact


@dataclass(frozen=True)
class Fold:
    """What a fold of a press left: its day, facts, carry, and whether it is settled."""

    day: str
    facts: FoldFacts
    carry: str
    settled: bool


class FoldWriter(RowWriter):
    """The part of a version that comes from folds."""

    def replace_folds(self, press_id: str, folds: Sequence[Fold]) -> None:
        """Put folds of a press in the place of earlier ones of their days: carry and facts of each kind."""
        days = [fold.day for fold in folds]
        if self._ended(FOLDS, press_id, days):
            for kind in FoldFacts().by_kind():
                self._ended(FACT_ROWS[kind], press_id, days)
        rows = [(press_id, fold.day, fold.carry, int(fold.settled), self.version) for fold in folds]
        self._insert(FOLDS, ("press_id", "day", "carry", "settled", "added"), rows)
        for kind in FoldFacts().by_kind():
            self._insert_facts(kind, press_id, {fold.day: fold.facts.by_kind()[kind] for fold in folds})

    def unsettle(self, press_id: str, since: str) -> None:
        """Note that the folds of a press from a day on have to be made again, although they go on to hold."""
        where = (FOLDS.c.press_id == press_id) & (FOLDS.c.day >= since) & live(FOLDS, self.version)
        self._execute(sa.update(FOLDS).where(where).values(settled=0))

    def replace_rejects(self, press_id: str, rows: Mapping[str, Sequence[RejectFact]]) -> None:
        """Put the rejects found by the inspections of a press, by day, in the place of earlier ones."""
        self._ended(FACT_ROWS["rejects"], press_id, list(rows))
        self._insert_facts("rejects", press_id, rows)

    def inspection_days(self, press_id: str, since: dt.date) -> list[dt.date]:
        """Plant days from `since` on, on which pieces of a press were looked at."""
        rows = self.rows("inspections", press_id, self._given.day_start_us(since))
        return sorted(set(self._given.plant_days(rows.column("time").cast(pa.int64()).to_numpy()).tolist()))

    def book_fingerprint(self) -> str:
        """Fingerprint of the plant book that the facts were folded with, empty before the first fold."""
        return read_about(self._connection, "book")

    def put_book_fingerprint(self, fingerprint: str) -> None:
        """Keep the fingerprint of the plant book that the facts are now folded with."""
        if fingerprint != self.book_fingerprint():
            self.changed = True
            write_about(self._connection, "book", fingerprint)

    def put_reckoning(self) -> None:
        """Keep that the facts are now reckoned by the rules of this release, all of them from this version on."""
        if read_about(self._connection, "reckoning") != str(RECKONING):
            self.changed = True
            since = self.version if self.book_fingerprint() else 0
            write_about(self._connection, "reckoning", str(RECKONING))
            write_about(self._connection, "reckoned since", str(since))

    def forget_facts(self) -> None:
        """Let all facts and folds hold no more from this version on."""
        for table in (FOLDS, *FACT_ROWS.values()):
            self._end(table, sa.true())

    def _live(self, made: sa.Table) -> sa.ColumnElement[bool]:
        """Whoever writes has to see what there is."""
        return live(made, self.version)

    def _insert_facts(self, kind: str, press_id: str, rows: Mapping[str, Sequence[Fact]]) -> None:
        values = [(press_id, day, *row, self.version) for day, facts in rows.items() for row in facts]
        self._insert(FACT_ROWS[kind], (*FACTS[kind].names, "added"), values)
