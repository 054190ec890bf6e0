"""Watches a folder and loads what loggers put there, once it is finished.

Folders are looked through again and again instead of waiting for the system to tell of changes, which network shares
do not.  A file is finished when two looks in a row find the same size and time of change and it can be opened.
"""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from monitor.contradictions import new_ones, summary
from monitor.enter.holds import new_hold_places
from monitor.intake import open_plain
from monitor.ledger import CatalogueFault, FileStamp, Ledger
from monitor.load.files import load
from monitor.load.report import FileReport, LoadReport
from shared.errors import StrokeledgerError
from shared.phrases import phrase
from shared.reasons.kept import plain
from shared.reasons.ledger import FOLDER_LOST

#: Time between the end of a look and the next [s].
PAUSE_S = 1.0
#: Time until a batch that failed, or a file that was refused for something that may pass, is tried again [s].
AGAIN_S = 30.0
#: How often the watch says that it is still there [s].
TELL_EVERY_S = 5.0

Say = Callable[[str], None]

#: How a folder looks that nobody may look into.
_CLOSED = FileStamp(-1, -1)


def scan_folder(folder: Path) -> dict[str, FileStamp]:
    """Every file in a folder and those below it by its path there, hidden ones left out; raises OSError.

    What is no plain file stands among them, and so does a folder that nobody may look into: a load says so of it.
    """
    found: dict[str, FileStamp] = {}
    below = [""]
    while below:
        within = below.pop()
        try:
            with os.scandir(folder / within) as entries:
                below += _look_into(entries, within, found)
        except FileNotFoundError:
            if not within:
                raise
        except OSError:
            if not within:
                raise
            found[within.rstrip("/")] = _CLOSED
    return found


def _look_into(entries: Iterable[os.DirEntry[str]], within: str, found: dict[str, FileStamp]) -> list[str]:
    """Note the files of one folder; returns the folders in it.  With 100,000 files every call counts."""
    below = []
    for entry in entries:
        name = entry.name
        if name[0] in ".~":
            continue
        if entry.is_dir(follow_symlinks=False):
            below.append(f"{within}{name}/")
        else:
            try:
                stat = entry.stat(follow_symlinks=False)
            except OSError:  # Taken away since, or renamed.
                continue
            found[within + name] = FileStamp(stat.st_size, stat.st_mtime_ns)
    return below


@dataclass
class FolderWatch:
    """One folder being watched; `step` looks once, `run` looks until it is told to stop."""

    ledger: Ledger
    folder: Path
    say: Say
    clock: Callable[[], float] = time.monotonic
    taken: int = 0
    _seen: dict[str, FileStamp] | None = None
    _before: dict[str, FileStamp] = field(default_factory=dict)
    _not_before: dict[str, float] = field(default_factory=dict)
    _gone: bool = False
    _told_s: float = float("-inf")
    _problem: str = ""
    _refused: dict[Path, str] = field(default_factory=dict)
    _shut: set[str] = field(default_factory=set)

    def run(self, stop: threading.Event, pause_s: float = PAUSE_S) -> None:
        """Look, load and wait until `stop` is set; a load under way is finished first."""
        self.say(f"watching {self.folder}")
        while not stop.is_set():
            try:
                self.step()
            except Exception as error:  # A watch that nobody looks at must outlive what nobody thought of.
                self._problem = f"{type(error).__name__}: {error}"
                self.say(f"the look failed and is tried again in {AGAIN_S:g} s: {self._problem}")
                stop.wait(AGAIN_S)
            stop.wait(pause_s)
        self._tell(0, running=False)
        self.say(f"stopped watching {self.folder}; {self.taken:,} files taken")

    def step(self) -> LoadReport | None:
        """Look once and load the files that are finished; what goes wrong is said and tried again later."""
        looks = self._look()
        if looks is None:
            return None
        finished = self._finished(looks)
        report = self._load(finished) if finished else None
        self._tell(len(looks))
        return report

    @property
    def _key(self) -> str:
        return str(self.folder.absolute())

    def _look(self) -> dict[str, FileStamp] | None:
        try:
            looks = scan_folder(self.folder)
        except OSError as error:
            if not self._gone:
                self.say(f"cannot look into {self.folder}: {error.strerror or error}; waiting for it to come back")
            self._gone, self._problem = True, phrase(FOLDER_LOST, why=error.strerror or str(error))
            self._before = {}
            self._tell(0)
            return None
        if self._gone:
            self.say(f"{self.folder} is back")
            self._gone, self._problem = False, ""
        return looks

    def _finished(self, looks: Mapping[str, FileStamp]) -> dict[str, FileStamp]:
        """Files not dealt with that stand as they stood at the look before and can be opened."""
        if self._seen is None:
            self._seen = self.ledger.keeper.seen.of(self._key)
        seen, now_s = self._seen, self.clock()
        new = {path: look for path, look in looks.items() if seen.get(path) != look}
        finished = {
            path: look
            for path, look in new.items()
            if self._before.get(path) == look and self._not_before.get(path, now_s) <= now_s and self._opens(path)
        }
        self._before = new
        self._not_before = {path: at for path, at in self._not_before.items() if path in looks}
        return finished

    def _load(self, finished: Mapping[str, FileStamp]) -> LoadReport | None:
        paths = {self.folder / path: path for path in finished}
        before = self.ledger.version
        try:
            report = load(list(paths), self.ledger, links=False)
            dealt = {path: finished[path] for path in _dealt_with(paths, report)}
            self.ledger.keeper.seen.add(self._key, dealt)
        except (StrokeledgerError, OSError, CatalogueFault) as error:
            self._problem = error.told if isinstance(error, StrokeledgerError) else str(getattr(error, "orig", error))
            self.say(f"{len(finished):,} files wait {AGAIN_S:g} s for another try: {self._problem}")
            self._not_before |= dict.fromkeys(finished, self.clock() + AGAIN_S)
            return None
        self._problem = ""
        assert self._seen is not None
        self._seen |= dealt
        self._not_before |= dict.fromkeys(finished.keys() - dealt.keys(), self.clock() + AGAIN_S)
        self.taken += len({file.path for file in report.files if not file.refused})
        held = [f"HELD: {line}" for line in new_hold_places(self.ledger, before)]
        wrong = [f"CHECK: {line}" for line in summary(new_ones(self.ledger, before, report.since_us))]
        for line in [*self._news(report), *held, *wrong]:
            self.say(line)
        return report

    def _news(self, report: LoadReport) -> list[str]:
        """What a load did, unless it only refused once more what it refused before for the same reason."""
        known = all(file.refused and self._refused.get(file.path) == file.refused for file in report.files)
        self._refused |= {file.path: file.refused for file in report.files if file.again}
        return [] if known else load_lines(report)

    def _opens(self, path: str) -> bool:
        """Whether a file can be opened: on some systems a logger that still writes keeps it to itself."""
        try:
            open_plain(self.folder / path).close()
        except StrokeledgerError:  # No plain file: the load refuses it.
            pass
        except OSError as error:
            if path not in self._shut:
                self.say(f"{path} cannot be opened ({error.strerror or error}); it waits until it can be")
                self._shut.add(path)
            return False
        self._shut.discard(path)
        return True

    def _tell(self, files: int, running: bool = True) -> None:
        """Leave word for the screens, now and then."""
        if running and self.clock() - self._told_s < TELL_EVERY_S:
            return
        self._told_s = self.clock()
        state = {
            "folder": str(self.folder),
            "looked_us": time.time_ns() // 1_000,
            "running": running,
            "files": files,
            "waiting": sum((self._seen or {}).get(path) != look for path, look in self._before.items()),
            "taken": self.taken,
            "problem": plain(self._problem),
        }
        try:
            self.ledger.keeper.seen.write_status(state)
        except OSError:  # A full disk is told of by the load that meets it.
            return


def _dealt_with(paths: Mapping[Path, str], report: LoadReport) -> list[str]:
    """Paths of files that need no other try before they change."""
    again = {file.path for file in report.files if file.again}
    return [path for full, path in paths.items() if full not in again]


def load_lines(report: LoadReport) -> list[str]:
    """What a load did, as lines for a person: one for each file that needs a look, one for all."""
    lines = [_refused(file) for file in report.files if file.refused]
    lines += [
        f"{file.file}: {file.set_aside:,} of {file.read:,} rows set aside"
        for file in report.files
        if file.set_aside and file.already_in is None
    ]
    lines += report.glitches
    names = ("read", "new", "repeated", "corrected", "set_aside")
    read, new, repeated, corrected, aside = (sum(getattr(file, name) for file in report.files) for name in names)
    shown = report.files[0].file if len(report.files) == 1 else f"{len(report.files):,} files"
    waited = f"; {report.released:,} rows that had been waiting came in" if report.released else ""
    lines.append(
        f"{shown}: {read:,} rows = {new:,} new + {repeated:,} repeated + {corrected:,} corrected + {aside:,} set aside"
        f"{waited}; version {report.version}"
    )
    return lines + report.clocks


def _refused(file: FileReport) -> str:
    later = f"; tried again in {AGAIN_S:g} s" if file.again else ""
    return f"{file.file} is refused: {file.refused}{later}"
