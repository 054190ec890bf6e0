"""Loads files and folders into the ledger in one transaction: all of it becomes visible, or nothing does."""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from monitor.defects import details, log_defect, refusal
from monitor.intake import Profile, Source, find_files, read_profile, read_toml, with_profiles
from monitor.keep.retention import tidy_if_due
from monitor.ledger import CatalogueFault, Ledger
from monitor.load.clock_words import clock_lines
from monitor.load.file_load import load_file
from monitor.load.report import LoadReport, Steps
from monitor.load.retry import Retry
from monitor.load.session import LoadSession
from monitor.plant.book import Book
from monitor.refold.press_days import refold
from shared.calendar import Calendar
from shared.errors import StrokeledgerError
from shared.plant import Plant
from shared.words import ENGLISH

#: Zone of times without offset until a plant.toml has been loaded.
DEFAULT_PLANT = Plant(timezone="UTC")


def load(
    paths: Sequence[Path],
    ledger: Ledger,
    *,
    correct: bool = False,
    profile: Profile | None = None,
    steps: Steps | None = None,
    links: bool = True,
    now_us: int | None = None,
) -> LoadReport:
    """Load files and folders in one transaction: all of it becomes visible at once, or nothing does.

    A file that cannot be read is refused and reported, the others go on.  Loading a file again changes nothing.
    Text files of no table are read by the column profile they fit; `profile` is tried first, for every text file.
    Links among the paths are followed where `links` says so, those in folders never.  `now_us` is the moment of the
    load [us since 1970 UTC], by the clock where left out: rows far ahead of it or long before it are set aside.

    Where a fault of our own keeps the files from being reckoned together, they are loaded in smaller lots until the
    file at fault stands alone: that one is refused, and every lot is a transaction of its own.
    """
    now_us = clock_us() if now_us is None else now_us
    report = _in_lots(find_files(paths, links), ledger, _Way(correct, profile, steps or Steps(), now_us))
    for file in report.files:
        if file.defect:
            with suppress(OSError):  # A full disk is told of by the load itself.
                log_defect(ledger.root, file.file, file.defect)
    return report


def clock_us() -> int:
    """Return the moment by the clock of this computer [us since 1970 UTC]."""
    return time.time_ns() // 1_000


@dataclass(frozen=True)
class _Way:
    """How files are to be loaded."""

    correct: bool
    profile: Profile | None
    steps: Steps
    now_us: int


def _in_lots(found: Sequence[Source], ledger: Ledger, way: _Way) -> LoadReport:
    """Load the files together, or in halves where that fails by a fault of ours."""
    try:
        return _together(found, ledger, way)
    except (StrokeledgerError, OSError, CatalogueFault):
        raise
    except Exception as error:
        if not found:
            raise
        fault, text = refusal(found[0].name, error), details(error)
    if len(found) > 1:
        half = len(found) // 2
        return _in_lots(found[:half], ledger, way).followed_by(_in_lots(found[half:], ledger, way))
    report = _together([replace(found[0], refused=fault.seen, fault=fault)], ledger, way)
    report.files[0].defect = text
    return report


def _together(found: Sequence[Source], ledger: Ledger, way: _Way) -> LoadReport:
    """Load files in one transaction."""
    report = LoadReport()
    stored = ledger.snapshot()
    plant = _plant_in(found, stored.plant_text())
    sources = with_profiles(found, _profiles_in(found, stored.profile_texts()), way.profile)
    with ledger.writer(Calendar(plant)) as writer:
        session = LoadSession(writer, plant, way.correct, way.now_us)
        for done, source in enumerate(sources):
            way.steps.file(done, len(sources), source.name)
            report.files.append(load_file(session, source))
        retry = Retry(session)
        retry.after_upgrade()
        report.released = retry.waiting()
        session.note_unknown()
        book = Book.read(writer, plant)
        report.refolded = refold(writer, book, affected := retry.affected(book), way.steps.press)
        session.count_glitches()
        report.recounted = session.recounted()
        noted = session.arrivals.presses_with_notes
        news = session.clocks.finish(writer, noted, affected.presses)
        report.clocks = clock_lines(news, book.calendar, ENGLISH)
        report.since_us = session.arrivals.since_us(session.calendar)
        report.version = writer.version if writer.changed else writer.version - 1
    tidy_if_due(ledger, session.calendar)
    return report


def _plant_in(sources: Iterable[Source], stored: str | None) -> Plant:
    """Return the plant whose time the files are read in: that of a plant.toml among them, else the stored one."""
    for source in sources:
        if source.table == "plant" and not source.refused:
            try:
                return Plant.from_toml(read_toml(source.path), source.name)
            except (StrokeledgerError, OSError):
                continue  # The file itself is refused, with its reason, when its turn comes.
    return Plant.from_toml(stored) if stored else DEFAULT_PLANT


def _profiles_in(sources: Iterable[Source], stored: Mapping[str, str]) -> list[Profile]:
    """Return the column profiles kept in the ledger and those among the files, which replace them by name."""
    profiles = {}
    for name, text in stored.items():
        with suppress(StrokeledgerError):  # One that a newer release no longer reads waits to be loaded anew.
            profiles[name] = Profile.from_toml(text, name)
    for source in sources:
        if source.table == "profile" and not source.refused:
            with suppress(StrokeledgerError):  # The file itself is refused, with its reason, when its turn comes.
                profile, _ = read_profile(source.path)
                profiles[profile.name] = profile
    return list(profiles.values())
