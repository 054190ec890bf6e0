"""One load under way: merges rows into the ledger and keeps the account of its files and of earlier ones."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import pyarrow as pa
import pyarrow.compute as pc

from monitor.intake import Plausible, unknown_notes
from monitor.ledger import Merge, Move, Writer
from monitor.load.arrivals import Arrivals
from monitor.load.counter_clocks import ClockCheck
from monitor.load.recount import describe_moves, recount
from monitor.load.report import FileReport
from monitor.plant.book import Book
from shared.calendar import Calendar
from shared.plant import Plant


@dataclass(frozen=True)
class Checkpoint:
    """What a load had brought before a file, to go back to where the file is refused."""

    arrivals: Arrivals
    moves: Counter[Move]
    clocks: ClockCheck


class LoadSession:
    """One load under way: what its rows bring, the reports of its files, and the id of the file being loaded."""

    def __init__(self, writer: Writer, plant: Plant, correct: bool, now_us: int) -> None:
        self.writer = writer
        self.plant = plant
        self.plausible = Plausible(plant.times, now_us)
        self.calendar = Calendar(plant)
        self.correct = correct
        self.arrivals = Arrivals()
        self.reports: dict[int, FileReport] = {}
        self.moves = Counter[Move]()
        self.clocks = ClockCheck()
        self._under_way = 0
        self._known: Mapping[str, frozenset[str]] | None = None

    @property
    def known(self) -> Mapping[str, frozenset[str]]:
        """Ids that rows may refer to, read anew after a table that holds such ids has grown."""
        if self._known is None:
            self._known = self.writer.known()
        return self._known

    def forget_known(self) -> None:
        """Read the ids that rows may refer to anew when they are next asked for."""
        self._known = None

    def begin(self, load_id: int) -> Checkpoint:
        """Begin with a file; return what to go back to where it is refused."""
        self._under_way = load_id
        return Checkpoint(self.arrivals.copy(), Counter(self.moves), self.clocks.copy())

    def go_back(self, before: Checkpoint) -> None:
        """Forget what has come since a checkpoint."""
        self.arrivals, self.moves, self.clocks = before.arrivals, Counter(before.moves), before.clocks

    def finish(self, load_id: int, report: FileReport, before: Checkpoint) -> None:
        """End a file: keep its report, and count what it changed in the reports of files before it."""
        if report.table in self.known:
            self.forget_known()
        self.writer.finish_load(load_id, rows=report.read + report.outside, **report.counts)
        self.reports[load_id] = report
        self._under_way = 0
        for (other, was, now), rows in (self.moves - before.moves).items():
            if other in self.reports and other != load_id:
                self.reports[other].move(was, now, rows)

    def merge(self, table: str, rows: pa.Table, load_id: int, report: FileReport) -> Merge:
        """Merge rows into the ledger, count them in the report, and return what became of them."""
        burst = self._burst(rows) if table == "strokes" else None
        merged = self.writer.merge(table, rows, load_id, burst)
        self._recount(table, merged, report)
        report.new += merged.new
        report.repeated += merged.repeated
        report.corrected += merged.corrected
        if merged.taken:
            self.arrivals.add(table, rows, merged.press_days)
            if table in self.known:
                self.arrivals.add_names(table, rows)
            if table == "strokes":
                self.clocks.read(rows, report.file, {press_id for press_id, _ in merged.press_days})
        return merged

    def _recount(self, table: str, merged: Merge, report: FileReport) -> None:
        """Count rows otherwise that were delivered earlier, in this file and in others."""
        self.arrivals.replaced.append((table, list(merged.gone)))
        moves = recount(self.writer, table, merged, self._under_way)
        for (load_id, was, now), rows in moves.items():
            if load_id == self._under_way:
                report.move(was, now, rows)
            elif not self._under_way and load_id in self.reports:
                self.reports[load_id].move(was, now, rows)
        self.moves += moves

    def _burst(self, rows: pa.Table) -> dict[str, int]:
        """Return, by press, how far a counter can rise between two readings of one second, on the day rows begin."""
        book = Book.read(self.writer, self.plant)
        day = book.day_of(pc.min(rows.column("time").cast(pa.int64())).as_py())
        rated = {row["press_id"]: row["rated_spm"] for row in book.rows_on("presses", day)}
        return {press_id: int(1.5 * (spm or 0) / 60) + 1 for press_id, spm in rated.items()}

    def recounted(self) -> list[str]:
        """Say which rows of earlier files count otherwise now."""
        return describe_moves(self.writer, self.moves, list(self.reports))

    def note_unknown(self) -> None:
        """Remark, now that all files are in, on names in rows that the ledger does not hold."""
        ids = cache(self.writer.ids)
        for report in self.reports.values():
            report.notes += unknown_notes(report.mentions, ids)

    def count_glitches(self) -> None:
        """Count in the report of each file the readings that were found not to be true when they were folded."""
        found = Counter(self.writer.facts("glitches")["load_id"].tolist())
        for load_id, report in self.reports.items():
            report.glitches = found[load_id]
