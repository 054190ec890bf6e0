"""One file on its way into the ledger: read, merged and accounted for row by row, or refused whole."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor

from monitor.defects import details, refusal
from monitor.intake import Batch, Rejected, Source, read, read_profile, read_toml
from monitor.ledger import CatalogueFault
from monitor.load.appended_files import Digest, EarlierLoads, digest, has_changed
from monitor.load.inspection_sums import stored_inspections
from monitor.load.report import FileReport, contradictions
from monitor.load.session import LoadSession
from monitor.plant.book import Book
from shared.errors import DamagedPart, LedgerError, RefusedFile, StrokeledgerError
from shared.phrases import phrase
from shared.plant import Plant
from shared.reasons.files import FILE_CHANGED, FILE_UNREADABLE, FINISHED_FILE, LOAD_FINISHED_FILE

#: Ends the digest of a file that was loaded as corrections.
_CORRECTS = "+correct"

_CHANGED = (
    phrase(FILE_CHANGED),
    phrase(FINISHED_FILE),
    phrase(LOAD_FINISHED_FILE),
)


class _Changed(RefusedFile):
    """A file that was written anew while it was read."""


def read_ahead(batches: Iterator[Batch]) -> Iterator[Batch]:
    """Yield batches while the next one is being read in a thread of its own; what fails there fails here."""
    with ThreadPoolExecutor(1, "strokeledger-intake") as reader:
        coming = reader.submit(next, batches, None)
        while (batch := coming.result()) is not None:
            coming = reader.submit(next, batches, None)
            yield batch


def load_file(session: LoadSession, source: Source) -> FileReport:
    """Load one file and return its report: all its rows are accounted for, or it is refused whole."""
    report = _report_of(source)
    if not source.plain:
        report.refused, report.again = source.refused, source.passing
        return report
    writer = session.writer
    try:
        before = writer.loads_of_file(report.file, report.table)
        found = digest(source.path, source.label, {size for _, size, _ in before})
    except (RefusedFile, OSError) as error:
        report.refused, report.again, _ = _why(source.name, error)
        return report
    # Corrections are a load of their own, beside a plain one of the same file.
    sha256 = found.sha256 + (_CORRECTS if session.correct else "")
    report.already_in = writer.load_id_of(sha256)
    if report.already_in is not None and writer.let_go_damaged(report.already_in):
        report.already_in = None
    if report.already_in is not None:
        _count_repeated(session, report)
        return report
    begins = [one for one in before if found.upto.get(one[1]) == one[2].removesuffix(_CORRECTS)]
    alike = {load for load, _, was in begins if was.endswith(_CORRECTS) == session.correct}
    others = {load for load, *_ in begins} - alike
    earlier = EarlierLoads.of(writer, alike, others, session.correct)
    load_id = writer.begin_load(
        report.file, report.table, sha256, found.size, profile=source.label, correct=session.correct
    )
    return _FileLoad(session, source, load_id, earlier).run(found)


def _report_of(source: Source) -> FileReport:
    return FileReport(source.name, source.table, path=source.path)


def _why(file: str, error: Exception) -> tuple[str, bool, str]:
    """Return why a file is refused, whether another try is worth while, and the traceback of a fault of ours."""
    if isinstance(error, StrokeledgerError):
        return error.told, isinstance(error, (DamagedPart, _Changed)), ""
    if isinstance(error, OSError):
        return phrase(FILE_UNREADABLE, why=error.strerror or str(error)), True, ""
    return refusal(file, error).told, False, details(error)


def _count_repeated(session: LoadSession, report: FileReport) -> None:
    """Report a file that is in already: every row that was loaded then is a repeat now."""
    loads = session.writer.loads()
    row = loads[loads["load_id"] == report.already_in].iloc[0]
    report.outside, report.read = int(row["outside"]), int(row["read"])
    report.repeated, report.set_aside = report.read - int(row["set_aside"]), int(row["set_aside"])


class _FileLoad:
    """The load of one file that is not in yet; `earlier` is what was set aside when its beginning was loaded."""

    def __init__(self, session: LoadSession, source: Source, load_id: int, earlier: EarlierLoads) -> None:
        self.session = session
        self.writer = session.writer
        self.source = source
        self.load_id = load_id
        self.earlier = earlier
        self.report = _report_of(source)

    def run(self, found: Digest) -> FileReport:
        """Load the file whose digest was taken; raises LedgerError and CatalogueFault where the ledger is at fault."""
        before = self.session.begin(self.load_id)
        try:
            self._read()
            self._release_completed()
            if has_changed(self.source.path, self.source.label, found):
                raise _Changed(self.source.name, *_CHANGED)
        except Exception as error:
            if isinstance(error, (LedgerError, CatalogueFault)) and not isinstance(error, DamagedPart):
                raise
            self.report = _report_of(self.source)
            self.report.refused, self.report.again, self.report.defect = _why(self.source.name, error)
            self.session.go_back(before)
        self.session.finish(self.load_id, self.report, before)
        return self.report

    def _read(self) -> None:
        source, session = self.source, self.session
        if source.fault:
            raise source.fault
        if source.table == "plant" and not source.refused:
            self._load_plant()
            return
        if source.table == "profile" and not source.refused:
            self._load_profile()
            return
        batches = read(
            source,
            zone=session.plant.timezone,
            known=session.known,
            limits=self._limits() if source.profile else None,
            plausible=session.plausible,
            calendar=session.calendar,
        )
        for batch in read_ahead(batches):
            self._load_batch(batch)

    def _load_plant(self) -> None:
        text = read_toml(self.source.path)
        Plant.from_toml(text, self.source.name)
        same = text == self.writer.plant_text()
        self.writer.put_plant(text)
        self.report.read, self.report.new, self.report.repeated = 1, int(not same), int(same)

    def _load_profile(self) -> None:
        profile, text = read_profile(self.source.path)
        same = text == self.writer.profile_texts().get(profile.name)
        self.writer.put_profile(profile.name, text)
        self.report.read, self.report.new, self.report.repeated = 1, int(not same), int(same)

    def _limits(self) -> dict[tuple[str, str], tuple[float | None, float | None]]:
        """Return the limits of the plant book on the day of the load, by part and characteristic."""
        book = Book.read(self.writer, self.session.plant)
        rows = book.rows_on("characteristics", book.day_of(self.session.plausible.now_us))
        return {(row["part_no"], row["characteristic"]): (row["lower"], row["upper"]) for row in rows}

    def _load_batch(self, batch: Batch) -> None:
        rejected = list(batch.rejected)
        if batch.rows.num_rows:
            merged = self.session.merge(self.source.table, batch.rows, self.load_id, self.report)
            self.earlier.add_repeats(merged.again)
            rejected += contradictions(batch.rows, merged.conflicts)
        fresh = self.earlier.fresh(rejected)
        self.session.arrivals.names |= stored_inspections(self.writer, self.source.table, fresh)
        self.writer.set_aside(self.load_id, self.source.table, self.source.name, fresh)
        self._count_as_own(rejected)
        report = self.report
        report.read += batch.read
        report.outside += batch.outside
        report.set_aside += len(fresh)
        report.repeated += len(rejected) - len(fresh)
        report.notes += batch.notes
        report.mentions += batch.mentions

    def _count_as_own(self, rejected: Sequence[Rejected]) -> None:
        """Count rows here that corrections of the same file had set aside before it was loaded plainly."""
        rows = self.earlier.set_aside_by_corrections(rejected)
        self.writer.move_aside([row.id for row in rows], self.load_id)
        moves = Counter((row.load_id, "set_aside", "repeated") for row in rows)
        self.writer.recount(moves)
        self.session.moves += moves
        self.report.move("repeated", "set_aside", len(rows))

    def _release_completed(self) -> None:
        """Let go of rows that were set aside because their line was cut short, and is whole in the file by now."""
        done = self.writer.set_aside_of([row.id for row in self.earlier.completed()])
        self.writer.release([row.id for row in done])
        self.writer.recount(Counter((row.load_id, "set_aside", "repeated") for row in done))
