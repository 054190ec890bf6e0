"""Tries rows again that were set aside: those that waited, those a person lets in, all of them after an upgrade."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from monitor.intake import Batch, reread
from monitor.ledger import SetAside
from monitor.load.inspection_sums import TABLE as INSPECTIONS
from monitor.load.inspection_sums import UnbalancedRows, set_aside_unbalanced
from monitor.load.recount import recorded_now
from monitor.load.report import FileReport, contradictions
from monitor.load.session import LoadSession
from monitor.plant.book import Book
from monitor.refold.affected_days import AffectedDays, add_records
from shared.phrases import Phrase
from shared.reasons.kept import kept


class Retry:
    """Rows set aside, tried again in one load; `unbalanced` are inspections that do not add up over all files."""

    def __init__(self, session: LoadSession) -> None:
        self.session = session
        self.writer = session.writer
        self.unbalanced = UnbalancedRows()
        self._let_in = Counter[int]()

    def waiting(self) -> int:
        """Try rows whose missing names have arrived; return how many came in, less those that do not add up."""
        released = 0
        while names := self.session.arrivals.take_names():
            waiting = self.writer.waiting(names)
            released += len(waiting) - len(self.rows(waiting))
        self._check_sums()
        return max(0, released - sum(self.unbalanced.loads.values()))

    def after_upgrade(self) -> None:
        """Try all rows that an older release set aside, whose rules were others.

        What was never cut into cells stays, and so does what waits for more of its inspection.
        """
        if not self.writer.is_reckoned:
            rows = [row for row in self.writer.all_set_aside() if row.row.startswith("{")]
            rows = [row for row in rows if row.table != INSPECTIONS or INSPECTIONS not in row.waits_for]
            stay = self.rows(rows)
            said = {row.id: (row.code, row.code_values) for row in rows}
            self.writer.restate({number: why for number, why in stay.items() if kept(why) != said[number]})

    def rows(
        self, rows: Sequence[SetAside], edited: Mapping[int, str] | None = None, by: str = ""
    ) -> dict[int, Phrase]:
        """Load rows as they came, or as a person edited them; return why some stay, by their id."""
        # Several rows of one line come of a profile; a line has to say which row is meant.
        by_load: dict[tuple[int, str, int], list[SetAside]] = defaultdict(list)
        turns = Counter[tuple[int, str, int]]()
        for row in rows:
            turns[row.load_id, row.table, row.line] += 1
            by_load[row.load_id, row.table, turns[row.load_id, row.table, row.line]].append(row)
        stay: dict[int, Phrase] = {}
        for some in by_load.values():
            stay |= self._rows_of_load(some, edited or {}, by)
        return stay

    def _rows_of_load(self, rows: Sequence[SetAside], edited: Mapping[int, str], by: str) -> dict[int, Phrase]:
        """Load rows of one load and table, each of another line."""
        self.session.forget_known()
        load_id, table = rows[0].load_id, rows[0].table
        batch = self._reread(table, [(row.line, edited.get(row.id, row.row)) for row in rows])
        by_hand = bool(by) and self.session.correct
        if by_hand:
            batch = replace(batch, rows=recorded_now(batch.rows))
        still = {rejected.line: rejected for rejected in batch.rejected}
        for row in rows:
            # What is let in as it came is the very row that was set aside; another one takes its place.
            if row.line not in still and (by_hand or row.id in edited):
                self.writer.forget(row)
        report = FileReport("", table)
        stay = {line: rejected.reason for line, rejected in still.items()} | self._merge(batch, rows, edited, report)
        # A row that lacks less than before, or something else, says so.
        self.writer.wait_on({row.id: still[row.line] for row in rows if row.line in still and row.id not in edited})
        self.writer.release({row.id: edited.get(row.id, "") for row in rows if row.line not in stay}, by)
        self._let_in[load_id] += report.new + report.repeated + report.corrected
        counts = {"new": report.new, "repeated": report.repeated, "corrected": report.corrected}
        self.writer.recount({(load_id, "set_aside", now): count for now, count in counts.items() if count})
        return {row.id: stay[row.line] for row in rows if row.line in stay}

    def _reread(self, table: str, texts: Sequence[tuple[int, str]]) -> Batch:
        session = self.session
        return reread(
            table,
            texts,
            zone=session.plant.timezone,
            known=session.known,
            plausible=session.plausible,
            calendar=session.calendar,
        )

    def _merge(
        self, batch: Batch, rows: Sequence[SetAside], edited: Mapping[int, str], report: FileReport
    ) -> dict[int, Phrase]:
        """Merge rows that hold now; return why some do not beside what is stored, by their line."""
        if not batch.rows.num_rows:
            return {}
        merged = self.session.merge(report.table, batch.rows, rows[0].load_id, report)
        lost = {rejected.line: rejected for rejected in contradictions(batch.rows, merged.conflicts)}
        as_came = [row for row in rows if row.line in lost and row.id not in edited]
        self.writer.contradict({row.id: lost[row.line] for row in as_came})
        return {line: rejected.reason for line, rejected in lost.items()}

    def _check_sums(self) -> None:
        """Set aside inspections that do not add up over all files, and count their rows so."""
        names = self.session.arrivals.values(INSPECTIONS, "inspection_id")
        self.unbalanced = set_aside_unbalanced(self.writer, names)
        for load_id, count in self.unbalanced.loads.items():
            if report := self.session.reports.get(load_id):
                # Rows let in since their file was read are reported as set aside all along.
                moved = max(0, count - self._let_in[load_id])
                for was in ("new", "corrected", "repeated"):
                    rows = min(moved, getattr(report, was))
                    report.move(was, "set_aside", rows)
                    moved -= rows

    def affected(self, book: Book) -> AffectedDays:
        """Return which press-days and moments must be folded anew because of this load."""
        affected = self.session.arrivals.affected(book, self.writer)
        add_records(INSPECTIONS, self.unbalanced.rows, affected, book, self.writer)
        return affected
