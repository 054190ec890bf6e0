"""What a load touched, press by press."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from monitor.refold.notes import STANDING_US


@dataclass
class Touched:
    """Press-days with new readings, moments and spans [us] of which something was noted, days looked at anew."""

    days: dict[str, set[dt.date]] = field(default_factory=dict)
    moments: dict[str, set[int]] = field(default_factory=dict)
    spans: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    looks: dict[str, set[dt.date]] = field(default_factory=dict)

    def at(self, press_id: str, *moments_us: int | None) -> None:
        """Note that something was said of a press at these moments [us]."""
        self.moments.setdefault(press_id, set()).update(us for us in moments_us if us is not None)

    def during(self, press_id: str, from_us: int, to_us: int | None) -> None:
        """Note that something was said of a press from one moment to another, or from it on [us]."""
        self.spans.setdefault(press_id, []).append((from_us, from_us + STANDING_US if to_us is None else to_us))

    def looked(self, press_id: str, day: dt.date) -> None:
        """Note that inspections of a press and plant day changed."""
        self.looks.setdefault(press_id, set()).add(day)

    @property
    def presses(self) -> set[str]:
        """Return the presses that anything was said of."""
        return {*self.days, *self.moments, *self.spans, *self.looks}
