"""Which profile a file is for: exactly one, or the reason why there is none."""

from __future__ import annotations

from collections.abc import Sequence
from fnmatch import fnmatchcase
from pathlib import Path

from monitor.intake.places import shown_name
from monitor.intake.profiles.heads import open_file
from monitor.intake.profiles.model import Profile
from shared.errors import RefusedFile
from shared.phrases import phrase

_ENDINGS = (".csv", ".txt", ".tsv", ".log", ".dat", ".prn", ".asc")


def profile_for(path: Path, profiles: Sequence[Profile]) -> Profile:
    """The one profile that a file fits; raises RefusedFile where there is none or more than one.

    A file that is named as a profile says must have its headings: a changed heading is named in the reason.
    """
    named = [profile for profile in profiles if profile.match.name and _is_named(path, profile)]
    open_to_all = [profile for profile in profiles if not profile.match.name]
    tried = named or open_to_all
    refusals = {profile.name: _misfits(path, profile) for profile in tried}
    fitting = [profile for profile in tried if not refusals[profile.name]]
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        names = " and ".join(profile.name for profile in fitting)
        raise RefusedFile(
            shown_name(path),
            phrase("it fits the profiles {names}", names=names),
            phrase("one profile"),
            phrase("Tell them apart by [match] in the profiles"),
        )
    if not tried:
        names = ", ".join(profile.name for profile in profiles) or "none loaded"
        raise RefusedFile(
            shown_name(path),
            phrase("a name of no table and of no profile"),
            phrase("a table of the data contract or a profile ({names})", names=names),
            phrase("Rename the file, or write a column profile for it"),
        )
    reasons = "; ".join(f"profile {name}: {reason}" for name, reason in refusals.items())
    seen, mend = phrase("it fits no profile ({why})", why=reasons), phrase("Mend the profile or check the file")
    raise RefusedFile(shown_name(path), seen, phrase("one profile"), mend)


def may_be_profiled(path: Path) -> bool:
    """Whether a file has an ending that text files of loggers have."""
    return path.suffix.lower() in _ENDINGS


def _is_named(path: Path, profile: Profile) -> bool:
    return fnmatchcase(shown_name(path).lower(), profile.match.name.lower())


def _misfits(path: Path, profile: Profile) -> str:
    """Why the top of a file does not fit one of the tables of a profile; empty where it fits all."""
    return next((reason for part in profile.parts if (reason := _misfit(path, part))), "")


def _misfit(path: Path, profile: Profile) -> str:
    """Why the top of a file does not fit a profile; empty where it does."""
    try:
        head, _ = open_file(path, profile)
    except RefusedFile as refused:
        return phrase("{seen}, expected {expected}", seen=refused.seen, expected=refused.expected)
    missing = [heading for heading in profile.match.headings if heading not in head.names]
    return phrase("no heading {names}", names=", ".join(missing)) if missing else ""
