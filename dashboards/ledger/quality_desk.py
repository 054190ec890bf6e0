"""The quality desk over a real ledger: one thread makes reports in the background, one after another."""

from __future__ import annotations

import datetime as dt
import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from dashboards.ledger.answers import AnswerCache
from monitor.enter.actions import Action, Key, actions, write
from monitor.figures.customer.weeks import days_of, week_of
from monitor.ledger import Ledger, Snapshot
from monitor.plant.book import Book, plant_of
from monitor.report import (
    CustomerWeek,
    Due,
    FigureChange,
    Output,
    PlantWeek,
    SentReport,
    add,
    as_sent,
    branding_of,
    changes,
    customers_of,
    folder_of,
    gather,
    last_sent,
    last_week,
    make,
    view_of,
)
from monitor.schedule import reports_of_week
from shared.durations import WEEK_US
from shared.errors import RequestError, StrokeledgerError
from shared.phrases import phrase

#: Jobs whose files can still be fetched; one of thirty customers is some ten megabytes.
MOST_JOBS = 4
#: Weeks to choose from; an address may name any other.
MOST_WEEKS = 60


@dataclass(frozen=True)
class Week:
    """A week of the plant: its ISO name and its first and last day."""

    name: str
    first: dt.date
    last: dt.date


@dataclass(frozen=True)
class CustomerReport:
    """One customer's report as it would be made now: its view, its page, and what is written and sent about it."""

    view: CustomerWeek
    page: str
    actions: Mapping[Key, Action]
    sent: SentReport | None
    changes: Sequence[FigureChange]


@dataclass
class Job:
    """Reports in the making: how many are done, which is at work, and the files so far by path in the folder."""

    week: str
    customers: tuple[str, ...]
    version: int
    done: int = 0
    now: str = ""
    finished: bool = False
    failed: Exception | None = None
    files: dict[str, bytes] = field(default_factory=dict)
    entries: list[SentReport] = field(default_factory=list)


class QualityDesk:
    """The quality desk of one ledger."""

    def __init__(
        self, ledger: Ledger, answers: AnswerCache, now_us: Callable[[], int] = lambda: time.time_ns() // 1_000
    ) -> None:
        self._ledger = ledger
        self._answers = answers
        self._now_us = now_us
        self._lock = threading.Lock()
        self._working = threading.Lock()
        self._jobs: OrderedDict[str, Job] = OrderedDict()

    def customers(self) -> list[str]:
        """All customers there ever were."""
        snapshot = self._ledger.snapshot()
        return self._answers.answer(snapshot.version, ("customers",), lambda: customers_of(snapshot))

    def weeks(self) -> list[Week]:
        """Weeks with strokes, up to the last whole one that has any, newest first."""
        snapshot = self._ledger.snapshot()
        asked = ("weeks", self._now_us() // WEEK_US)
        return self._answers.answer(snapshot.version, asked, lambda: self._weeks(snapshot))

    def week(self, name: str) -> Week:
        """A week by its name; raises RequestError where there is no such week."""
        first, after = days_of(name, _book(self._ledger.snapshot()).plant.week_start)
        return Week(name, first, after.fromordinal(after.toordinal() - 1))

    def report(self, customer: str, week: str) -> CustomerReport:
        """The report of a customer as it would be made now."""
        snapshot = self._ledger.snapshot()
        sent = last_sent(self._ledger.root, customer, week)
        asked = ("report", customer, week, sent and sent.sent_at)
        return self._answers.answer(snapshot.version, asked, lambda: self._report(snapshot, customer, week, sent))

    def due(self, week: str) -> list[Due]:
        """How the reports of all customers stand."""
        return reports_of_week(
            self._ledger.root, _book(self._ledger.snapshot()), week, self.customers(), self._now_us()
        )

    def start(self, week: str, customers: Sequence[str]) -> str:
        """Begin to make reports in every format; the number of the job."""
        number = secrets.token_urlsafe(16)
        job = Job(week, tuple(customers), self._ledger.version)
        with self._lock:
            self._jobs[number] = job
            while len(self._jobs) > MOST_JOBS:
                self._jobs.popitem(last=False)
        threading.Thread(target=self._run, args=(job,), name="reports", daemon=True).start()
        return number

    def job(self, number: str) -> Job | None:
        """A job of the last few, None where it is not known any more."""
        with self._lock:
            return self._jobs.get(number)

    def mark_sent(self, number: str, by: str) -> list[SentReport]:
        """Note the reports of a finished job as sent."""
        job = self.job(number)
        if job is None or not job.finished or job.failed:
            seen, expected = phrase("reports that were not made"), phrase("reports made here")
            raise RequestError(phrase("mark as sent"), seen, expected, phrase("make them first"))
        if not by.strip():
            seen, expected = phrase("no name"), phrase("who sends them")
            raise RequestError(phrase("mark as sent"), seen, expected, phrase("enter your name"))
        (now,) = _book(self._ledger.snapshot()).calendar.local_iso([self._now_us()])
        entries = [SentReport(**{**vars(entry), "sent_at": now, "by": by.strip()[:80]}) for entry in job.entries]
        for entry in entries:
            add(self._ledger.root, entry)
        return entries

    def write(self, customer: str, week: str, texts: Mapping[Key, tuple[str, str]], by: str) -> None:
        """Enter what was done about causes; see `monitor.enter.actions.write`."""
        write(self._ledger, customer, week, texts, by)

    def _run(self, job: Job) -> None:
        """Make the reports of a job; what goes wrong is told, and the thread ends."""
        with self._working:
            try:
                alone = job.customers[0] if len(job.customers) == 1 else None
                found = gather(self._ledger.snapshot(job.version), job.week, alone)
                for customer in job.customers:
                    job.now = customer
                    self._make(job, found, customer)
                    job.done += 1
            except StrokeledgerError as error:
                job.failed = error
            except Exception as error:
                job.failed = error
                raise
            finally:
                job.finished = True

    def _make(self, job: Job, found: PlantWeek, customer: str) -> None:
        root = self._ledger.root
        view = view_of(found, customer)
        branding = branding_of(found.plant.report, root)
        files = make(view, branding, set(Output), last_sent(root, customer, job.week, view.version))
        folder = f"{folder_of(customer, self.customers())}/{job.week}"
        job.files |= {f"{folder}/{name}": content for name, content in files.items()}
        job.entries.append(as_sent(view, files, ""))

    def _weeks(self, snapshot: Snapshot) -> list[Week]:
        days = sorted({day for press in snapshot.presses_with_strokes() for day in snapshot.stroke_days(press)})
        book = _book(snapshot)
        if not days:
            return []
        newest = min(last_week(book, self._now_us()), week_of(days[-1], book.plant.week_start))
        names = {week_of(day, book.plant.week_start) for day in days}
        return [self.week(name) for name in sorted((n for n in names if n <= newest), reverse=True)[:MOST_WEEKS]]

    def _report(self, snapshot: Snapshot, customer: str, week: str, sent: SentReport | None) -> CustomerReport:
        found = gather(snapshot, week, customer)
        view = view_of(found, customer)
        root = self._ledger.root
        earlier = last_sent(root, customer, week, snapshot.version)
        page = make(view, branding_of(found.plant.report, root), {Output.HTML}, earlier)["report.html"]
        changed = changes(sent, view) if sent else []
        return CustomerReport(view, page.decode(), actions(snapshot, customer, week), sent, changed)


def _book(snapshot: Snapshot) -> Book:
    return Book.read(snapshot, plant_of(snapshot.plant_text()))
