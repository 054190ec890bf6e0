"""Finds the files to load and says which table each belongs to."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from monitor.intake.profiles import Profile, may_be_profiled, profile_for
from shared.errors import RefusedFile
from shared.phrases import key, phrase
from shared.tables import TABLES

PLANT = "plant"
PROFILE = "profile"
_FORMATS = {".csv": "csv", ".parquet": "parquet"}
_ORDER = {table: place for place, table in enumerate((PLANT, PROFILE, *TABLES))}


@dataclass(frozen=True)
class Source:
    """A file and the table it belongs to; `refused` says why it belongs to none, `profile` how it is to be read."""

    path: Path
    table: str
    format: str
    refused: str = ""
    profile: Profile | None = None

    @property
    def label(self) -> str:
        """Name and version of the profile it is read by, empty without one."""
        return self.profile.label if self.profile else ""


_GONE = phrase("no such file")


def find_files(paths: Sequence[Path]) -> list[Source]:
    """The files named, and those in the folders named, in the order to load them; hidden files are left out.

    What is referred to comes first: plant, plant book, material, events; refused files come last.
    """
    files = dict.fromkeys(file for path in paths for file in _files(path))
    return sorted((_source(file) for file in files), key=_place)


def read_profile(path: Path) -> tuple[Profile, str]:
    """The profile in a file `profile-NAME.toml` and its text; raises RefusedFile."""
    name = path.stem.removeprefix(f"{PROFILE}-")
    try:
        text = path.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        seen = str(getattr(error, "strerror", "")) or phrase("bytes that are not UTF-8")
        raise RefusedFile(path.name, seen, phrase("a TOML file"), phrase("See to the file")) from None
    return Profile.from_toml(text, name, path.name), text


def with_profiles(sources: Iterable[Source], profiles: Sequence[Profile], given: Profile | None = None) -> list[Source]:
    """The sources with files of no table read by the one profile they fit, in the order to load them.

    A profile `given` by hand is for every text file that it fits, whatever the file is called.  A file whose profile
    has several tables is a source for each of them.
    """
    return sorted((one for source in sources for one in _profiled(source, profiles, given)), key=_place)


def _profiled(source: Source, profiles: Sequence[Profile], given: Profile | None) -> list[Source]:
    if source.format == "toml" or not may_be_profiled(source.path) or not source.path.is_file():
        return [source]
    is_named = not source.refused
    reason = ""
    for tried in ([given] if given else [], [] if is_named else profiles):
        try:
            found = profile_for(source.path, tried) if tried else None
        except RefusedFile as refused:
            reason = phrase("{seen} (expected {expected})", seen=refused.seen, expected=refused.expected)
            continue
        if found:
            return [Source(source.path, part.table, "profile", profile=part) for part in found.parts]
    return [source if is_named or not reason else replace(source, refused=reason)]


def _files(path: Path) -> Iterator[Path]:
    if not path.is_dir():
        yield path
        return
    for file in sorted(path.rglob("*")):
        if file.is_file() and not _is_hidden(file.relative_to(path)):
            yield file


def _is_hidden(path: Path) -> bool:
    return any(part.startswith((".", "~")) for part in path.parts)


def _source(path: Path) -> Source:
    table = re.split(r"[-.]", path.name, maxsplit=1)[0].lower()
    ending = path.suffix.lower()
    if path.name.lower() == "plant.toml":
        return Source(path, PLANT, "toml", "" if path.is_file() else _GONE)
    if ending == ".toml" and table == PROFILE and path.stem.partition("-")[2]:
        return Source(path, PROFILE, "toml", "" if path.is_file() else _GONE)
    return Source(path, table if table in TABLES else "", _FORMATS.get(ending, ""), _refusal(path, table, ending))


def _refusal(path: Path, table: str, ending: str) -> str:
    if not path.is_file():
        return _GONE
    if ending not in _FORMATS:
        wrong = key("ends in {ending!r}, expected .csv, .parquet, plant.toml or profile-NAME.toml")
        return phrase(wrong, ending=ending or "nothing")
    if table not in TABLES:
        unknown = key("no table is called {name!r}; names start with one of {tables}")
        return phrase(unknown, name=table, tables=", ".join(sorted(TABLES)))
    return ""


def _place(source: Source) -> tuple[int, str]:
    return len(_ORDER) if source.refused else _ORDER[source.table], str(source.path)
