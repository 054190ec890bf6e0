"""Lengths of time that the code counts in: instants and durations are whole microseconds (`_us`)."""

from __future__ import annotations

from typing import Final

SECOND_US: Final = 1_000_000
MINUTE_US: Final = 60 * SECOND_US
HOUR_US: Final = 60 * MINUTE_US
DAY_US: Final = 24 * HOUR_US
WEEK_US: Final = 7 * DAY_US

MINUTE_S: Final = 60
HOUR_S: Final = 60 * MINUTE_S
DAY_S: Final = 24 * HOUR_S

FOREVER_US: Final = 1 << 62
"""Later than any instant; with a minus, earlier than any."""
