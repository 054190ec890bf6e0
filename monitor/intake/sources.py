"""Finds the files to load and says which table each belongs to."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from monitor.intake.opening import check_plain, read_toml
from monitor.intake.places import shown_name
from monitor.intake.profiles import Profile, may_be_profiled, profile_for
from shared.errors import RefusedFile
from shared.phrases import phrase
from shared.reasons.expected import NOTHING
from shared.reasons.files import (
    FILE_UNREADABLE,
    FOLDER_CLOSED,
    NO_FILE,
    NOT_AS_EXPECTED,
    SEE_TO_FILE,
    TOML_FILE,
    UNKNOWN_ENDING,
    UNKNOWN_TABLE,
)
from shared.tables import TABLES

PLANT = "plant"
PROFILE = "profile"
_FORMATS = {".csv": "csv", ".parquet": "parquet"}
_ORDER = {table: place for place, table in enumerate((PLANT, PROFILE, *TABLES))}


@dataclass(frozen=True)
class Source:
    """A file and the table it belongs to; `refused` says why it belongs to none, `profile` how it is to be read.

    `name` is the file's as text that can be shown and stored.  `plain` is false for what must not even be opened, and
    `passing` tells that this may pass.  `fault` is what came of an earlier try to load it, by a fault of our own.
    """

    path: Path
    table: str
    format: str
    refused: str = ""
    profile: Profile | None = None
    name: str = ""
    plain: bool = True
    passing: bool = False
    fault: RefusedFile | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "name", self.name or shown_name(self.path))

    @property
    def label(self) -> str:
        """Name and version of the profile it is read by, empty without one."""
        return self.profile.label if self.profile else ""


_GONE = phrase(NO_FILE)


def find_files(paths: Sequence[Path], links: bool = True) -> list[Source]:
    """The files named, and those in the folders named, in the order to load them; hidden files are left out.

    What is referred to comes first: plant, plant book, material, events; refused files come last.  A link that is
    named is followed where `links` says so; one that lies in a folder never is, and is refused.
    """
    files = dict.fromkeys(
        file for path in paths for file in (_files(path) if links or not _surely(path.is_symlink) else [path])
    )
    named = frozenset(paths) if links else frozenset()
    return sorted((_source(file, file in named) for file in files), key=_place)


def read_profile(path: Path) -> tuple[Profile, str]:
    """The profile in a file `profile-NAME.toml` and its text; raises RefusedFile."""
    name = shown_name(path).removesuffix(path.suffix).removeprefix(f"{PROFILE}-")
    try:
        text = read_toml(path)
    except OSError as error:
        seen = error.strerror or str(error)
        raise RefusedFile(shown_name(path), seen, phrase(TOML_FILE), phrase(SEE_TO_FILE)) from None
    return Profile.from_toml(text, name, shown_name(path)), text


def with_profiles(sources: Iterable[Source], profiles: Sequence[Profile], given: Profile | None = None) -> list[Source]:
    """The sources with files of no table read by the one profile they fit, in the order to load them.

    A profile `given` by hand is for every text file that it fits, whatever the file is called.  A file whose profile
    has several tables is a source for each of them.
    """
    return sorted((one for source in sources for one in _profiled(source, profiles, given)), key=_place)


def _profiled(source: Source, profiles: Sequence[Profile], given: Profile | None) -> list[Source]:
    if source.format == "toml" or not source.plain or not may_be_profiled(source.path):
        return [source]
    is_named = not source.refused
    reason = ""
    for tried in ([given] if given else [], [] if is_named else profiles):
        try:
            found = profile_for(source.path, tried) if tried else None
        except RefusedFile as refused:
            reason = phrase(NOT_AS_EXPECTED, seen=refused.seen, expected=refused.expected)
            continue
        except OSError:  # Gone or closed since it was found: what takes the file says so.
            return [source]
        if found:
            return [Source(source.path, part.table, "profile", profile=part, name=source.name) for part in found.parts]
    return [source if is_named or not reason else replace(source, refused=reason)]


def _files(path: Path) -> Iterator[Path]:
    """The path itself, or what lies in the folder and those below it; a folder that nobody may look into is named."""
    waiting = [path] if _surely(path.is_dir) else []
    if not waiting:
        yield path
    while waiting:  # Folders may lie in one another deeper than calls may.
        folder = waiting.pop()
        try:
            with os.scandir(folder) as entries:
                found = sorted((entry.name, entry.is_dir(follow_symlinks=False)) for entry in entries)
        except OSError:
            yield folder
            continue
        shown = [(folder / name, is_folder) for name, is_folder in found if not name.startswith((".", "~"))]
        yield from (one for one, is_folder in shown if not is_folder)
        waiting += [one for one, is_folder in shown if is_folder]


def _surely(ask: Callable[[], bool]) -> bool:
    """What is asked of a path, false where a folder above it may not be entered."""
    try:
        return ask()
    except OSError:
        return False


def _source(path: Path, named: bool) -> Source:
    name = shown_name(path)
    table = re.split(r"[-.]", name, maxsplit=1)[0].lower()
    ending = path.suffix.lower()
    if named and _surely(path.is_symlink) and _surely(path.is_file):
        path = path.resolve()
    unfit, passing = _unfit(path)
    if unfit:
        return Source(path, "", "", unfit, name=name, plain=False, passing=passing)
    if name.lower() == "plant.toml":
        return Source(path, PLANT, "toml", name=name)
    if ending == ".toml" and table == PROFILE and path.stem.partition("-")[2]:
        return Source(path, PROFILE, "toml", name=name)
    return Source(path, table if table in TABLES else "", _FORMATS.get(ending, ""), _refusal(table, ending), name=name)


def _unfit(path: Path) -> tuple[str, bool]:
    """Why a path is not even to be opened, empty for a plain file, and whether that may pass."""
    try:
        check_plain(path)
    except RefusedFile as refused:
        if _surely(path.is_dir) and not _surely(path.is_symlink):
            return phrase(FOLDER_CLOSED), True
        return phrase(NOT_AS_EXPECTED, seen=refused.seen, expected=refused.expected), False
    except FileNotFoundError:
        return _GONE, True
    except (OSError, ValueError) as error:
        return phrase(FILE_UNREADABLE, why=str(getattr(error, "strerror", "") or error)), True
    return "", False


def _refusal(table: str, ending: str) -> str:
    if ending not in _FORMATS:
        return phrase(UNKNOWN_ENDING, ending=ending or phrase(NOTHING))
    if table not in TABLES:
        return phrase(UNKNOWN_TABLE, name=table, tables=", ".join(sorted(TABLES)))
    return ""


def _place(source: Source) -> tuple[int, str]:
    return len(_ORDER) if source.refused else _ORDER[source.table], str(source.path)
