"""Intake: bytes to accepted rows and rows set aside."""

from monitor.intake.batch import Batch, Rejected
from monitor.intake.profiles import Profile
from monitor.intake.reading import read, reread
from monitor.intake.sources import Source, find_files, with_profiles

__all__ = ["Batch", "Profile", "Rejected", "Source", "find_files", "read", "reread", "with_profiles"]
