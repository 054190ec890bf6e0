"""What a figure is asked for: a range of plant time and filters."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import pandas as pd

from shared.calendar import Calendar
from shared.durations import FOREVER_US
from shared.errors import RequestError
from shared.identifiers import as_identifier
from shared.phrases import phrase

_US = dt.timedelta(microseconds=1)
_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)

#: An end of a range: text as a person writes it, or microseconds since 1970 UTC; None is no limit.
Bound = str | int | None


@dataclass(frozen=True)
class Scope:
    """Range [from, to) and filters; None is no limit.

    Where both ends are starts of plant days the range is one of shift dates, so that a night shift stays whole;
    otherwise it is one of clock hours.
    """

    from_us: int | None = None
    to_us: int | None = None
    from_date: dt.date | None = None
    to_date: dt.date | None = None
    press: str | None = None
    die: str | None = None
    part: str | None = None

    @property
    def by_date(self) -> bool:
        """Tell whether both ends, where there are any, are starts of plant days."""
        return (self.from_us is None) == (self.from_date is None) and (self.to_us is None) == (self.to_date is None)

    def keep(self, facts: pd.DataFrame) -> pd.DataFrame:
        """Return the facts in range and filters, by whichever of the columns they have."""
        chosen = pd.Series(True, index=facts.index)
        for column, value in (("press_id", self.press), ("die_id", self.die), ("part_no", self.part)):
            if value is not None and column in facts:
                chosen &= facts[column] == value
        if self.by_date:
            if self.from_date is not None:
                chosen &= facts["shift_date"] >= self.from_date.isoformat()
            if self.to_date is not None:
                chosen &= facts["shift_date"] < self.to_date.isoformat()
        else:
            moment = facts["hour_us"] if "hour_us" in facts else facts["from_us"]
            chosen &= (moment >= self._low) & (moment < self._high)
        return facts[chosen]

    def keep_part(self, rows: pd.DataFrame) -> pd.DataFrame:
        """Return the rows of the part asked for."""
        return rows if self.part is None else rows[rows["part_no"] == self.part]

    @property
    def _low(self) -> int:
        return -FOREVER_US if self.from_us is None else self.from_us

    @property
    def _high(self) -> int:
        return FOREVER_US if self.to_us is None else self.to_us

    def dates(self, calendar: Calendar) -> tuple[dt.date | None, dt.date | None]:
        """Return shift dates [first, after) that facts in range can have."""
        first = self.from_date or (calendar.plant_day(self.from_us) if self.from_us is not None else None)
        if self.to_date is not None or self.to_us is None:
            return first, self.to_date
        return first, calendar.plant_day(self.to_us) + dt.timedelta(days=1)


def scope(
    calendar: Calendar,
    from_: Bound,
    to: Bound,
    press: str | None = None,
    die: str | None = None,
    part: str | None = None,
) -> Scope:
    """Read a range, as a person writes it or in microseconds since 1970 UTC, and filters.

    A bare date is the start of that plant day; a time without offset is plant time.  Raises RequestError for a time
    that cannot be read or a range that ends before it begins.
    """
    from_us, from_date = _moment(calendar, "--from", from_)
    to_us, to_date = _moment(calendar, "--to", to)
    if from_us is not None and to_us is not None and to_us <= from_us:
        raise RequestError(
            phrase("range"),
            phrase("from {low} to {high}", low=bound_text(calendar, from_), high=bound_text(calendar, to)),
            phrase("an end after the beginning"),
            phrase("give a later --to; it is not included itself"),
        )
    press, die, part = (None if name is None else as_identifier(name) for name in (press, die, part))
    return Scope(from_us, to_us, from_date=from_date, to_date=to_date, press=press, die=die, part=part)


def moment_us(calendar: Calendar, where: str, text: str) -> int:
    """Return a moment [us since 1970 UTC] as `scope` reads it; RequestError, saying where, where it is none."""
    return _read(calendar, where, text)[0]


def _moment(calendar: Calendar, where: str, bound: Bound) -> tuple[int | None, dt.date | None]:
    if bound is None or bound == "":
        return None, None
    return _read(calendar, where, bound) if isinstance(bound, str) else _with_day(calendar, bound)


def bound_text(calendar: Calendar, bound: Bound) -> str:
    """Return an end of a range as a person would write it, "" where there is none."""
    return calendar.local_time(bound).isoformat() if isinstance(bound, int) else bound or ""


def _read(calendar: Calendar, where: str, text: str) -> tuple[int, dt.date | None]:
    try:
        return _day(calendar, text) or _instant(calendar, text)
    except (ValueError, OverflowError):
        raise RequestError(
            where,
            repr(text),
            phrase("a date or time in ISO 8601"),
            phrase("write 2026-11-02 for a plant day or 2026-11-02T14:00 for a moment"),
        ) from None


def _day(calendar: Calendar, text: str) -> tuple[int, dt.date] | None:
    try:
        date = dt.date.fromisoformat(text)
    except ValueError:
        return None
    return calendar.day_start_us(date), date


def _instant(calendar: Calendar, text: str) -> tuple[int, dt.date | None]:
    moment = dt.datetime.fromisoformat(text)
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=ZoneInfo(calendar.plant.timezone))
    return _with_day(calendar, (moment - _EPOCH) // _US)


def _with_day(calendar: Calendar, us: int) -> tuple[int, dt.date | None]:
    """Return a moment [us] and the plant day that begins with it, if one does."""
    day = calendar.plant_day(us)
    return us, day if calendar.day_start_us(day) == us else None
