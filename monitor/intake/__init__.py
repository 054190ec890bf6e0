"""Intake: bytes to accepted rows and rows set aside."""

from monitor.intake.batch import Batch, Mention, Ref, Rejected
from monitor.intake.checks import DIFFERS, too_many, unknown_notes
from monitor.intake.opening import open_plain, read_toml
from monitor.intake.plausible import Plausible
from monitor.intake.profiles import Profile
from monitor.intake.reading import read, reread
from monitor.intake.sources import Source, find_files, read_profile, with_profiles

__all__ = [
    "DIFFERS",
    "Batch",
    "Mention",
    "Plausible",
    "Profile",
    "Ref",
    "Rejected",
    "Source",
    "find_files",
    "open_plain",
    "read",
    "read_profile",
    "read_toml",
    "reread",
    "too_many",
    "unknown_notes",
    "with_profiles",
]
