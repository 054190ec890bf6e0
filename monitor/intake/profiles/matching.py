"""Which profile a file is for: exactly one, or the reason why there is none."""

from __future__ import annotations

from collections.abc import Sequence
from fnmatch import fnmatchcase
from pathlib import Path

from monitor.intake.places import shown_name
from monitor.intake.profiles.heads import open_file
from monitor.intake.profiles.model import Profile
from shared.errors import RefusedFile
from shared.phrases import joined, phrase
from shared.reasons.expected import BOTH, listed
from shared.reasons.files import (
    HEADING_MISSING,
    MEND_PROFILE,
    NO_PROFILE_FITS,
    NONE_LOADED,
    ONE_PROFILE,
    PROFILE_MISFIT,
    PROFILE_REASON,
    PROFILES_FIT,
    RENAME_OR_PROFILE,
    TABLE_OR_PROFILE,
    TELL_APART,
    UNKNOWN_FILE_NAME,
)

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
        both = listed((profile.name for profile in fitting), BOTH)
        raise RefusedFile(
            shown_name(path),
            phrase(PROFILES_FIT, names=both),
            phrase(ONE_PROFILE),
            phrase(TELL_APART),
        )
    if not tried:
        names = ", ".join(profile.name for profile in profiles) or phrase(NONE_LOADED)
        raise RefusedFile(
            shown_name(path),
            phrase(UNKNOWN_FILE_NAME),
            phrase(TABLE_OR_PROFILE, names=names),
            phrase(RENAME_OR_PROFILE),
        )
    reasons = joined(phrase(PROFILE_REASON, name=name, reason=reason) for name, reason in refusals.items())
    seen, mend = phrase(NO_PROFILE_FITS, why=reasons), phrase(MEND_PROFILE)
    raise RefusedFile(shown_name(path), seen, phrase(ONE_PROFILE), mend)


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
        return phrase(PROFILE_MISFIT, seen=refused.seen, expected=refused.expected)
    missing = [heading for heading in profile.match.headings if heading not in head.names]
    return phrase(HEADING_MISSING, names=", ".join(missing)) if missing else ""
