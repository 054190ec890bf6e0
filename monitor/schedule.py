"""Makes the reports that plant.toml sets a day for: once each, when the day has come, whoever looks first."""

from __future__ import annotations

import dataclasses
import threading
import time
from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from monitor.ledger import Ledger
from monitor.ledger.catalog.locks import lock_file
from monitor.plant.book import Book, plant_of
from monitor.plant.carries import newest_reading_us
from monitor.report import (
    MADE,
    Branding,
    Due,
    Output,
    PlantWeek,
    ReportStatus,
    SentReport,
    add,
    as_sent,
    branding_of,
    customers_of,
    due,
    folder_of,
    gather,
    last_sent,
    last_week,
    make,
    range_of,
    read,
    view_of,
    write,
)
from shared.durations import SECOND_US
from shared.errors import LedgerBusy, StrokeledgerError

LOCK = "reports.lock"

#: Time between two looks at the calendar, and until what failed is tried again [s].
PAUSE_S, AGAIN_S = 60.0, 600.0

Say = Callable[[str], None]


@contextmanager
def alone(root: Path, wait_s: float = 0.0) -> Iterator[None]:
    """Make what is due as the only one; raises LedgerBusy where another program does so for longer than `wait_s`."""
    with lock_file(root / LOCK, wait_s, "another program still makes the reports that are due"):
        yield


def reports_of_week(root: Path, book: Book, week: str, customers: Iterable[str], now_us: int) -> list[Due]:
    """Return how the reports of a week stand at a moment [us since 1970 UTC], by the registers in the folder `root`."""
    after, today = range_of(book, week).to_date, book.calendar.plant_day(now_us)
    return due(
        book.plant.report, customers, week=week, after=after, today=today, sent=read(root), made=read(root, MADE)
    )


def make_files(
    found: PlantWeek, customer: str, branding: Branding, outputs: Collection[Output], out: Path, root: Path
) -> tuple[Path, SentReport]:
    """Write the report of a customer; returns its folder and its entry for a register, without time and name."""
    view = view_of(found, customer)
    files = make(view, branding, outputs, last_sent(root, customer, view.week, view.version))
    folder = out / folder_of(customer, found.customers) / view.week
    write(files, folder)
    return folder, as_sent(view, files, "")


@dataclass
class Schedule:
    """What a server makes beside its pages: `step` looks once, `run` looks until it is told to stop."""

    ledger: Ledger
    out: Path
    say: Say
    now_us: Callable[[], int] = lambda: time.time_ns() // 1_000
    _problems: set[str] = field(default_factory=set)
    _not_before_us: int = 0

    def run(self, stop: threading.Event, pause_s: float = PAUSE_S) -> None:
        """Look, make and wait until `stop` is set; a report under way is finished first."""
        while not stop.is_set():
            self.step(stop)
            stop.wait(pause_s)

    def step(self, stop: threading.Event | None = None) -> list[str]:
        """Make what is due and was neither made nor sent, and say so; what goes wrong is said and tried again later."""
        if self.now_us() < self._not_before_us:
            return []
        try:
            made = self._make(stop or threading.Event())
        except LedgerBusy:
            return []  # Whoever makes them has noted it when we look again.
        except Exception as error:  # The pages go on, whatever nobody thought of.
            self._failed(_told(error))
            return []
        if self.now_us() >= self._not_before_us:
            self._problems.clear()
        return made

    def _make(self, stop: threading.Event) -> list[str]:
        root, snapshot = self.ledger.root, self.ledger.snapshot()
        book = Book(plant_of(snapshot.plant_text()), {})
        named = [entry.customer for entry in book.plant.report.customers if entry.day]
        week = last_week(book, self.now_us())
        if not self._due(book, week, named):
            return []
        if newest_reading_us(snapshot) < range_of(book, week).from_us:
            self._failed(f"no reading of week {week} or later has been loaded")
            return []
        with alone(root):
            due_now, known = self._due(book, week, named), customers_of(snapshot)
            waiting, unknown = ([n for n in due_now if (n in known) is wanted] for wanted in (True, False))
            if unknown:
                self._failed(f"plant.toml sets a day for {', '.join(unknown)}, a customer that no other file names")
            if not waiting:
                return []
            found = gather(snapshot, week, waiting[0] if len(waiting) == 1 else None)
            return [name for name in waiting if not stop.is_set() and self._one(found, name)]

    def _due(self, book: Book, week: str, customers: Iterable[str]) -> list[str]:
        rows = reports_of_week(self.ledger.root, book, week, customers, self.now_us())
        return [row.customer for row in rows if row.standing is ReportStatus.DUE]

    def _one(self, found: PlantWeek, customer: str) -> bool:
        root = self.ledger.root
        try:
            branding = branding_of(found.plant.report, root)
            folder, entry = make_files(found, customer, branding=branding, outputs=set(Output), out=self.out, root=root)
            note_made(root, found, entry, self.now_us())
        except Exception as error:  # One customer's report must not hold up those of the others.
            self._failed(f"{customer}: {_told(error)}")
            return False
        self.say(f"{customer}: the report of week {found.range.week} was due and is made, {folder}")
        return True

    def _failed(self, problem: str) -> None:
        self._not_before_us = self.now_us() + int(AGAIN_S * SECOND_US)
        if problem not in self._problems:
            self.say(f"reports that are due cannot be made and are tried again every {AGAIN_S / 60:g} min: {problem}")
        self._problems.add(problem)


def _told(error: Exception) -> str:
    """Return what an error says; of one that nobody thought of, its kind as well."""
    return str(error) if isinstance(error, StrokeledgerError) else f"{type(error).__name__}: {error}"


def note_made(root: Path, found: PlantWeek, entry: SentReport, now_us: int) -> None:
    """Note that a report which was due is made, so that nobody makes it again."""
    (now,) = found.book.calendar.local_iso([now_us])
    add(root, dataclasses.replace(entry, sent_at=now), MADE)
