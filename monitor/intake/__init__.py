"""Intake: bytes to accepted rows and rows set aside."""

from monitor.intake.batch import Batch, Rejected
from monitor.intake.reading import read, reread
from monitor.intake.sources import Source, find_files

__all__ = ["Batch", "Rejected", "Source", "find_files", "read", "reread"]
