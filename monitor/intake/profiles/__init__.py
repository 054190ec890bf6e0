"""Column profiles: how the files of a logger map onto the tables of the data contract."""

from monitor.intake.profiles.limits import Limits
from monitor.intake.profiles.matching import may_be_profiled, profile_for
from monitor.intake.profiles.model import Profile
from monitor.intake.profiles.readback import read_back
from monitor.intake.profiles.reading import profile_rows

__all__ = ["Limits", "Profile", "may_be_profiled", "profile_for", "profile_rows", "read_back"]
