"""Dates and times as loggers write them to ISO 8601, by the order, century and clock the profile names."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from dataclasses import dataclass

from monitor.intake.profiles.parts import Time
from shared.durations import DAY_S
from shared.errors import RefusedFile
from shared.phrases import phrase
from shared.reasons.expected import (
    CLEAR_DATE,
    CLOCK_TIME,
    DATE_AND_TIME,
    DATE_IN_ORDER,
    HOUR_OF_HALF_DAY,
    HOURS,
    SPREADSHEET_DAY,
    TIME_OF_DAY,
    YEAR,
)

_DATE = re.compile(r"(\d{1,4})([./-])(\d{1,2})\2(\d{1,4})\.?(?=$|[ T,])[ T,]*")
_CLOCK = re.compile(
    r"(\d{1,2})(?::(\d\d)(?::(\d\d)(?:[.,](\d{1,6})\d*)?)?)?(?:\s*([AaPp])\.?[Mm]\.?)?(\+[1-9])?(Z|[+-]\d\d:\d\d)?"
)
_RANGE = re.compile(r"(\d{1,2}(?::\d\d)?)\s*[-–]\s*(\d{1,2}(?::\d\d)?)")
_SERIAL = re.compile(r"\d{1,6}([.,]\d+)?")
_SERIAL_START = dt.datetime(1899, 12, 30)
_DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class Moment:
    """A time by the logger's clock; `start` where a period is given, `day` where it is a bare date.

    A day number of a spreadsheet without a fraction is a bare date where there may be one, else its midnight: `whole`.
    """

    end: dt.datetime
    start: dt.datetime | None = None
    day: bool = False
    offset: str = ""
    whole: bool = False


class Moments:
    """Reads times by a profile; `order` is that of day, month and year where the file has dates of that sort."""

    def __init__(self, told: Time, order: str) -> None:
        self._told = told
        self._order = order

    def read(self, text: str, later: bool = False) -> Moment:
        """The moment a cell means; raises ValueError with what was expected.

        With `later`, a time may end in +1 for the next day: words of a profile such as Night stand for such times.
        """
        if self._told.serial1900:
            moment = _serial(text)
            return Moment(moment, whole=moment.time() == dt.time())
        date = _DATE.match(text)
        if not date:
            raise ValueError(phrase(DATE_AND_TIME))
        day = self._day(date)
        rest = text[date.end() :].strip()
        if not rest:
            return Moment(day, day=True)
        span = _RANGE.fullmatch(rest)
        if span and self._told.hour_end:
            return _span(day, span)
        return _at(day, rest, later)

    def write(self, moment: dt.datetime, offset: str = "") -> str:
        """The moment as ISO 8601, set right by what the clock was ahead, with the offset of a fixed clock."""
        true = moment - dt.timedelta(seconds=self._ahead_s(moment))
        fixed = "" if self._told.clock == "plant" else self._told.clock
        return true.isoformat() + (offset or fixed)

    def _ahead_s(self, moment: dt.datetime) -> float:
        for one in self._told.clock_offsets:
            if (one.since is None or one.since <= moment) and (one.until is None or moment < one.until):
                return one.seconds
        return self._told.clock_offset_s

    def _day(self, date: re.Match[str]) -> dt.datetime:
        parts = date[1], date[3], date[4]
        order = "ymd" if len(date[1]) == 4 else self._order
        if not order:
            raise ValueError(phrase(CLEAR_DATE))
        found = dict(zip(order, parts, strict=True))
        year = int(found["y"])
        if len(found["y"]) != 4:
            if len(found["y"]) != 2 or not self._told.century:
                raise ValueError(phrase(YEAR))
            year += self._told.century
        try:
            return dt.datetime(year, int(found["m"]), int(found["d"]))
        except ValueError:
            raise ValueError(phrase(DATE_IN_ORDER, order="-".join(order))) from None


def _serial(text: str) -> dt.datetime:
    if not _SERIAL.fullmatch(text):
        raise ValueError(phrase(SPREADSHEET_DAY))
    # Six decimals are a tenth of a second, so what was meant is the nearest whole one.
    return _SERIAL_START + dt.timedelta(seconds=round(float(text.replace(",", ".")) * DAY_S))


def _at(day: dt.datetime, text: str, later: bool) -> Moment:
    found = _CLOCK.fullmatch(text)
    if not found or not (found[2] or found[5]) or (found[6] and not later):
        raise ValueError(phrase(CLOCK_TIME))
    offset = found[7] or ""
    moment = day + _since_midnight(found) + _DAY * int(found[6] or 0)
    return Moment(moment, offset=offset)


def _since_midnight(found: re.Match[str]) -> dt.timedelta:
    hour, minute, second = (int(part or 0) for part in found.group(1, 2, 3))
    us = int((found[4] or "0").ljust(6, "0"))
    if found[5]:
        if not 1 <= hour <= 12:
            raise ValueError(phrase(HOUR_OF_HALF_DAY))
        hour = hour % 12 + 12 * (found[5].lower() == "p")
    since = dt.timedelta(hours=hour, minutes=minute, seconds=second, microseconds=us)
    if minute > 59 or second > 59 or since > _DAY:
        raise ValueError(phrase(TIME_OF_DAY))
    return since


def _span(day: dt.datetime, span: re.Match[str]) -> Moment:
    start, end = (_hour(part) for part in span.group(1, 2))
    if end <= start:
        end += _DAY
    return Moment(day + end, day + start)


def _hour(text: str) -> dt.timedelta:
    hour, _, minute = text.partition(":")
    since = dt.timedelta(hours=int(hour), minutes=int(minute or 0))
    if since > _DAY:
        raise ValueError(phrase(HOURS))
    return since


def order_of(cells: Iterable[str], where: str) -> str:
    """Order of day and month in a whole file, "" where no date needs it; raises RefusedFile where it does not show."""
    first = second = 0
    example = ""
    for cell in cells:
        date = _DATE.match(cell)
        if date and len(date[1]) < 3:
            example = example or cell
            first, second = max(first, int(date[1])), max(second, int(date[3]))
    if not example or (first > 12) != (second > 12):
        return "" if not example else "dmy" if first > 12 else "mdy"
    seen = "days and months in changing order" if first > 12 else "day and month that cannot be told apart"
    raise RefusedFile(
        where, f"{seen} over the whole file, such as {example[:40]!r}", "one order", "Name date_order in the profile"
    )
