"""One load under way: file after file read, merged, set aside and let in, and what it all bears on."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import cache

import pyarrow as pa
import pyarrow.compute as pc

from monitor.defects import details, refusal
from monitor.intake import (
    Batch,
    Plausible,
    Ref,
    Rejected,
    Source,
    read,
    read_profile,
    read_toml,
    reread,
    unknown_notes,
)
from monitor.ledger import CatalogueFault, Merge, Move, SetAside, Writer
from monitor.load.counter_clocks import ClockLook
from monitor.load.grown_files import Earlier, digest, has_changed
from monitor.load.inspection_sums import TABLE as ADDED_UP
from monitor.load.inspection_sums import PutAside, put_aside
from monitor.load.recount import recorded_now, recount, told
from monitor.load.report import FileReport, contradictions
from monitor.plant.book import Book, Record
from monitor.refold.affected import Touched
from monitor.refold.affected_days import touch, touch_rows
from shared.calendar import Calendar
from shared.errors import DamagedPart, LedgerError, RefusedFile, StrokeledgerError
from shared.phrases import phrase
from shared.plant import Plant
from shared.tables import TABLES


def read_ahead(batches: Iterator[Batch]) -> Iterator[Batch]:
    """Yield batches while the next one is being read in a thread of its own; what fails there fails here."""
    with ThreadPoolExecutor(1, "strokeledger-intake") as reader:
        coming = reader.submit(next, batches, None)
        while (batch := coming.result()) is not None:
            coming = reader.submit(next, batches, None)
            yield batch


class _Changed(RefusedFile):
    """A file that was written anew while it was read."""


_CHANGED = (
    phrase("a file that was changed while it was read"),
    phrase("one that is finished"),
    phrase("Load it again once nobody writes to it"),
)


def _why(file: str, error: Exception) -> tuple[str, bool, str]:
    """Return why a file is refused, whether another try is worth while, and the traceback of a fault of ours."""
    if isinstance(error, StrokeledgerError):
        return str(error), isinstance(error, (DamagedPart, _Changed)), ""
    if isinstance(error, OSError):
        return phrase("cannot be read: {why}", why=error.strerror or str(error)), True, ""
    return str(refusal(file, error)), False, details(error)


#: Ends the digest of a file that was loaded as corrections.
_CORRECTS = "+correct"


class Load:
    """One load under way: takes file after file and remembers what they touched."""

    def __init__(self, writer: Writer, plant: Plant, correct: bool, now_us: int) -> None:
        self.writer = writer
        self.plant = plant
        self.plausible = Plausible(plant.times, now_us)
        self.calendar = Calendar(plant)
        self.correct = correct
        self.arrived: set[Ref] = set()
        self.days: dict[str, set[dt.date]] = defaultdict(set)
        self.noted: list[tuple[str, pa.Table]] = []
        self.earlier = Earlier()
        self.reports: dict[int, FileReport] = {}
        self.let_in = Counter[int]()
        self.put = PutAside()
        self.clocks = ClockLook()
        self.gone: list[tuple[str, list[Record]]] = []
        self.moves = Counter[Move]()
        self._under_way = 0
        self._known: Mapping[str, frozenset[str]] | None = None

    @property
    def known(self) -> Mapping[str, frozenset[str]]:
        """Ids that rows may refer to, read anew after a table that holds such ids has grown."""
        if self._known is None:
            self._known = self.writer.known()
        return self._known

    def file(self, source: Source) -> FileReport:
        """Take one file: all its rows are accounted for, or it is refused whole."""
        report = FileReport(source.name, source.table, path=source.path)
        if not source.plain:
            report.refused, report.again = source.refused, source.passing
            return report
        try:
            before = self.writer.loads_of_file(report.file, report.table)
            found = digest(source.path, source.label, {size for _, size, _ in before})
        except (RefusedFile, OSError) as error:
            report.refused, report.again, _ = _why(source.name, error)
            return report
        # Corrections are a load of their own, beside a plain one of the same file.
        sha256 = found.sha256 + (_CORRECTS if self.correct else "")
        report.already_in = self.writer.load_id_of(sha256)
        if report.already_in is not None and self.writer.let_go_damaged(report.already_in):
            report.already_in = None
        if report.already_in is not None:
            self._repeat(report)
            return report
        begins = [one for one in before if found.upto.get(one[1]) == one[2].removesuffix(_CORRECTS)]
        alike = {load for load, _, was in begins if was.endswith(_CORRECTS) == self.correct}
        others = {load for load, *_ in begins} - alike
        self.earlier = Earlier.of(self.writer, alike, others, self.correct)
        load_id = self._under_way = self.writer.begin_load(
            report.file, report.table, sha256, found.size, profile=source.label, correct=self.correct
        )
        held = {press_id: set(days) for press_id, days in self.days.items()}, len(self.noted), set(self.arrived)
        recounted = Counter(self.moves), len(self.gone)
        jumped = self.clocks.held()
        try:
            self._rows(source, load_id, report)
            self._completed()
            if has_changed(source.path, source.label, found):
                raise _Changed(source.name, *_CHANGED)
        except Exception as error:
            if isinstance(error, (LedgerError, CatalogueFault)) and not isinstance(error, DamagedPart):
                raise
            report = FileReport(source.name, source.table, path=source.path)
            report.refused, report.again, report.defect = _why(source.name, error)
            self._forget(*held)
            self.clocks, self.moves, self.gone = jumped, recounted[0], self.gone[: recounted[1]]
        self._known = None if source.table in self.known else self._known
        self.writer.finish_load(load_id, rows=report.read + report.outside, **report.counts)
        self.reports[load_id] = report
        self._under_way = 0
        for (other, was, now), rows in (self.moves - recounted[0]).items():
            if other in self.reports and other != load_id:
                self.reports[other].move(was, now, rows)
        return report

    def _completed(self) -> None:
        """Let go of rows that were set aside because their line was cut short, and is whole in the file by now."""
        done = self.writer.set_aside_of([row.id for row in self.earlier.completed()])
        self.writer.release([row.id for row in done])
        self.writer.recount(Counter((row.load_id, "set_aside", "repeated") for row in done))

    def _repeat(self, report: FileReport) -> None:
        """Report a file that is in already: every row that was taken then is a repeat now."""
        loads = self.writer.loads()
        row = loads[loads["load_id"] == report.already_in].iloc[0]
        report.outside, report.read = int(row["outside"]), int(row["read"])
        report.repeated, report.set_aside = report.read - int(row["set_aside"]), int(row["set_aside"])

    def _forget(self, days: dict[str, set[dt.date]], noted: int, arrived: set[Ref]) -> None:
        self.days = defaultdict(set, days)
        self.noted = self.noted[:noted]
        self.arrived = arrived

    def _rows(self, source: Source, load_id: int, report: FileReport) -> None:
        if source.fault:
            raise source.fault
        if source.table == "plant" and not source.refused:
            self._plant(source, report)
            return
        if source.table == "profile" and not source.refused:
            self._profile(source, report)
            return
        limits = self._limits() if source.profile else None
        zone = self.plant.timezone
        batches = read(
            source, zone=zone, known=self.known, limits=limits, plausible=self.plausible, calendar=self.calendar
        )
        for batch in read_ahead(batches):
            self._batch(source, load_id, batch, report)

    def _plant(self, source: Source, report: FileReport) -> None:
        text = read_toml(source.path)
        Plant.from_toml(text, source.name)
        same = text == self.writer.plant_text()
        self.writer.put_plant(text)
        report.read, report.new, report.repeated = 1, int(not same), int(same)

    def _profile(self, source: Source, report: FileReport) -> None:
        profile, text = read_profile(source.path)
        same = text == self.writer.profile_texts().get(profile.name)
        self.writer.put_profile(profile.name, text)
        report.read, report.new, report.repeated = 1, int(not same), int(same)

    def _limits(self) -> dict[tuple[str, str], tuple[float | None, float | None]]:
        """Return the limits of the plant book on the day of the load, by part and characteristic."""
        book = Book.read(self.writer, self.plant)
        rows = book.rows_on("characteristics", book.day_of(self.plausible.now_us))
        return {(row["part_no"], row["characteristic"]): (row["lower"], row["upper"]) for row in rows}

    def _batch(self, source: Source, load_id: int, batch: Batch, report: FileReport) -> None:
        rejected = list(batch.rejected)
        if batch.rows.num_rows:
            rejected += self._merge(source.table, batch.rows, load_id, report)
        fresh = self.earlier.fresh(rejected)
        self._others_of(source.table, fresh)
        self.writer.set_aside(load_id, source.table, source.name, fresh)
        self._take_over(load_id, rejected, report)
        report.read += batch.read
        report.outside += batch.outside
        report.set_aside += len(fresh)
        report.repeated += len(rejected) - len(fresh)
        report.notes += batch.notes
        report.mentions += batch.mentions

    def _take_over(self, load_id: int, rejected: Sequence[Rejected], report: FileReport) -> None:
        """Count rows here that corrections of the same file had set aside before it was loaded plainly."""
        rows = self.earlier.taken_over(rejected)
        self.writer.move_aside([row.id for row in rows], load_id)
        moves = Counter((row.load_id, "set_aside", "repeated") for row in rows)
        self.writer.recount(moves)
        self.moves += moves
        report.move("repeated", "set_aside", len(rows))

    def _merge(self, table: str, rows: pa.Table, load_id: int, report: FileReport) -> list[Rejected]:
        """Merge rows into the ledger; return those that contradict what is stored."""
        burst = self._burst(rows) if table == "strokes" else None
        merged = self.writer.merge(table, rows, load_id, burst)
        self._recount(table, merged, report)
        report.new += merged.new
        report.repeated += merged.repeated
        report.corrected += merged.corrected
        if merged.taken:
            self._remember(table, rows, merged.touched)
            if table == "strokes":
                self.clocks.read(rows, report.file, {press_id for press_id, _ in merged.touched})
        return contradictions(rows, merged.conflicts)

    def _recount(self, table: str, merged: Merge, report: FileReport) -> None:
        """Note what rows came to that were delivered earlier, in this file and in others."""
        self.earlier.repeats(merged.again)
        self.gone.append((table, list(merged.gone)))
        moves = recount(self.writer, table, merged, self._under_way)
        for (load_id, was, now), rows in moves.items():
            if load_id == self._under_way:
                report.move(was, now, rows)
            elif not self._under_way and load_id in self.reports:
                self.reports[load_id].move(was, now, rows)
        self.moves += moves

    def recounted(self) -> list[str]:
        """Say which rows of earlier files count otherwise now."""
        return told(self.writer, self.moves, list(self.reports))

    def _remember(self, table: str, rows: pa.Table, touched: set[tuple[str, dt.date]]) -> None:
        if table == "strokes":
            for press_id, day in touched:
                self.days[press_id].add(day)
        else:
            self.noted.append((table, rows))
        if table in self.known:
            column = TABLES[table].id_column
            self.arrived |= {(table, name) for name in rows.column(column).unique().to_pylist()}

    def _burst(self, rows: pa.Table) -> dict[str, int]:
        """Return, by press, how far a counter can rise between two readings of one second, on the day rows begin."""
        book = Book.read(self.writer, self.plant)
        day = book.day_of(pc.min(rows.column("time").cast(pa.int64())).as_py())
        rated = {row["press_id"]: row["rated_spm"] for row in book.rows_on("presses", day)}
        return {press_id: int(1.5 * (spm or 0) / 60) + 1 for press_id, spm in rated.items()}

    def release_waiting(self) -> int:
        """Take rows that waited for something that has arrived; those that lack something else wait on."""
        released = 0
        while self.arrived:
            waiting = self.writer.waiting(self.arrived)
            self.arrived = set()
            released += len(waiting) - len(self.release(waiting))
        self.put = self._add_up()
        return max(0, released - sum(self.put.loads.values()))

    def renew(self) -> None:
        """Look at rows set aside again where an older release set them aside: its rules were others.

        What was never cut into cells stays, and so does what waits for more of its inspection.
        """
        if not self.writer.is_reckoned:
            rows = [row for row in self.writer.all_set_aside() if row.row.startswith("{")]
            rows = [row for row in rows if row.table != ADDED_UP or ADDED_UP not in row.waits_for]
            stay = self.release(rows)
            self.writer.restate({row.id: stay[row.id] for row in rows if stay.get(row.id, row.reason) != row.reason})

    def note_unknown(self) -> None:
        """Remark, now that all files are in, on what the rows of each name and the ledger does not hold."""
        ids = cache(self.writer.ids)
        for report in self.reports.values():
            report.notes += unknown_notes(report.mentions, ids)

    def count_glitches(self) -> None:
        """Count in the report of each file the readings that were found not to be true once they were reckoned."""
        found = Counter(self.writer.facts("glitches")["load_id"].tolist())
        for load_id, report in self.reports.items():
            report.glitches = found[load_id]

    def _others_of(self, table: str, rejected: Sequence[Rejected]) -> None:
        """Let rows that do not add up in their own file count as arrived where other rows of theirs are stored."""
        waited = [ref for one in rejected for ref in one.waits_for] if table == ADDED_UP else []
        names = {name for other, name in waited if other == ADDED_UP}
        stored = self.writer.lookup(ADDED_UP, TABLES[ADDED_UP].id_column, names) if names else []
        self.arrived |= {(ADDED_UP, row["inspection_id"]) for row in stored}

    def _add_up(self) -> PutAside:
        """Set aside inspections that do not add up over all files, and count their rows so."""
        names = {name for table, rows in self.noted if table == ADDED_UP for name in rows["inspection_id"].to_pylist()}
        put = put_aside(self.writer, names)
        for load_id, count in put.loads.items():
            if report := self.reports.get(load_id):
                # Rows let in since their file was read are told as set aside all along.
                moved = max(0, count - self.let_in[load_id])
                for was in ("new", "corrected", "repeated"):
                    taken = min(moved, getattr(report, was))
                    report.move(was, "set_aside", taken)
                    moved -= taken
        return put

    def release(
        self, rows: Sequence[SetAside], mended: Mapping[int, str] | None = None, by: str = ""
    ) -> dict[int, str]:
        """Take rows that were set aside, as they came or as they were mended; return why some stay, by their id."""
        # Several rows of one line come of a profile; a line has to say which row is meant.
        by_load: dict[tuple[int, str, int], list[SetAside]] = defaultdict(list)
        turns = Counter[tuple[int, str, int]]()
        for row in rows:
            turns[row.load_id, row.table, row.line] += 1
            by_load[row.load_id, row.table, turns[row.load_id, row.table, row.line]].append(row)
        stay: dict[int, str] = {}
        for (load_id, table, _turn), some in by_load.items():
            stay |= self._release(load_id, table, some, mended or {}, by)
        return stay

    def _release(
        self, load_id: int, table: str, rows: Sequence[SetAside], mended: Mapping[int, str], by: str
    ) -> dict[int, str]:
        self._known = None
        texts = [(row.line, mended.get(row.id, row.row)) for row in rows]
        batch = reread(
            table, texts, zone=self.plant.timezone, known=self.known, plausible=self.plausible, calendar=self.calendar
        )
        report = FileReport("", table)
        by_hand = bool(by) and self.correct
        if by_hand:
            batch = replace(batch, rows=recorded_now(batch.rows))
        refused = {rejected.line for rejected in batch.rejected}
        for row in rows:
            # What is let in as it came is the very row that was set aside; another one takes its place.
            if row.line not in refused and (by_hand or row.id in mended):
                self.writer.forget(row)
        stay = {rejected.line: rejected.reason for rejected in batch.rejected}
        if batch.rows.num_rows:
            lost = {rejected.line: rejected for rejected in self._merge(table, batch.rows, load_id, report)}
            as_came = [row for row in rows if row.line in lost and row.id not in mended]
            self.writer.contradict({row.id: lost[row.line] for row in as_came})
            stay |= {line: rejected.reason for line, rejected in lost.items()}
        # A row that lacks less than before, or something else, says so.
        still = {rejected.line: rejected for rejected in batch.rejected}
        self.writer.wait_on({row.id: still[row.line] for row in rows if row.line in still and row.id not in mended})
        self.writer.release({row.id: mended.get(row.id, "") for row in rows if row.line not in stay}, by)
        self.let_in[load_id] += report.new + report.repeated + report.corrected
        counts = {"new": report.new, "repeated": report.repeated, "corrected": report.corrected}
        self.writer.recount({(load_id, "set_aside", now): count for now, count in counts.items() if count})
        return {row.id: stay[row.line] for row in rows if row.line in stay}

    @property
    def noted_presses(self) -> set[str]:
        """Presses of which something was noted that bears on when they stood."""
        tables = ("coil_changes", "die_changes", "stops")
        return {
            press_id
            for table, rows in self.noted
            if table in tables
            for press_id in rows.column("press_id").unique().to_pylist()
        }

    @property
    def since_us(self) -> int | None:
        """Return the earliest moment that rows of this load speak of [us], None where they speak of none."""
        times = [self.calendar.day_start_us(min(days)) for days in self.days.values() if days]
        for table, rows in self.noted:
            column = TABLES[table].time or ""
            if TABLES[table].group == "event" and column in rows.column_names:
                first = pc.min(rows.column(column).cast(pa.int64())).as_py()
                times += [] if first is None else [first]
        return min(times, default=None)

    def touched(self, book: Book) -> Touched:
        """Return which press-days and moments the rows of this load bear on."""
        touched = Touched(days=dict(self.days))
        for table, rows in self.noted:
            touch(table, rows, touched, book, self.writer)
        for table, gone in self.gone:
            touch_rows(table, gone, touched, book, self.writer)
        touch_rows(ADDED_UP, self.put.rows, touched, book, self.writer)
        return touched
