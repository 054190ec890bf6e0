"""In which years a time may lie: a wrong year is a clock or a typing error, and would fold every shift up to it."""

from __future__ import annotations

from dataclasses import dataclass

from monitor.intake.batch import Mask, Whole
from shared.durations import DAY_US
from shared.fields import Field
from shared.phrases import Amount, Template
from shared.plant import TimeLimits
from shared.reasons.rows import TIME_TOO_EARLY, TIME_TOO_LATE

_YEAR_DAYS = 365.25


@dataclass(frozen=True)
class Plausible:
    """The time in which rows of a load at a moment [us since 1970 UTC] may lie, by the settings of the plant."""

    times: TimeLimits
    now_us: int

    def too_late(self, us: Whole, field: Field) -> Mask:
        """Times further ahead than what has happened can lie; of a column that may hold plans, none."""
        mask: Mask = us > self.now_us + self.times.days_ahead * DAY_US
        return mask & (not field.planned)

    def too_early(self, us: Whole) -> Mask:
        """Times further back than the plant's rows go."""
        mask: Mask = us < self.now_us - self.times.years_back * _YEAR_DAYS * DAY_US
        return mask

    def faults(self, us: Whole, field: Field) -> list[tuple[Mask, Template, Amount]]:
        """What may be wrong with times of a column: which rows, the reason, and its number."""
        return [
            (self.too_late(us, field), TIME_TOO_LATE, Amount(self.times.days_ahead)),
            (self.too_early(us), TIME_TOO_EARLY, Amount(self.times.years_back)),
        ]
