"""How numbers and times are written for whoever looks: a dash where nothing is known, never 0 in its place."""

from __future__ import annotations

import datetime as dt

import pandas as pd

from dashboards.request.locale import locale, say
from shared.calendar import Calendar

UNKNOWN = "–"


def known(value: object) -> bool:
    """Whether a cell holds anything: not None, NaN, NA or empty text."""
    return not (pd.isna(value) or value == "")  # type: ignore[call-overload]


def text(value: object) -> str:
    """A cell as text, "" where nothing is known."""
    return str(value) if known(value) else ""


def count(value: object) -> str:
    """Whole number with thin spaces between thousands."""
    return decimal(value, 0)


def decimal(value: object, digits: int = 1) -> str:
    """Number with a fixed count of digits after the decimal sign."""
    return locale().words.number(_number(value), digits) if known(value) else UNKNOWN


def share(value: object, digits: int | None = None) -> str:
    """A part of one as per cent; below 10 % with two digits unless told otherwise."""
    if not known(value):
        return UNKNOWN
    part = _number(value)
    return locale().words.per_cent(part, digits if digits is not None else (2 if abs(part) < 0.1 else 1))


def weight_unit() -> str:
    """What weights are shown in."""
    return locale().words.unit("kg")


def size_unit() -> str:
    """What sizes of strip and parts are shown in."""
    return locale().words.unit("mm")


def length(metres: object, digits: int = 0) -> str:
    """Metres of strip with their unit: "120 m", or feet."""
    return _amount(metres, "m", digits)


def weight(kilograms: object, digits: int = 0) -> str:
    """Kilograms with their unit: "12 kg", or pounds."""
    return _amount(kilograms, "kg", digits)


def size(millimetres: object, digits: int = 2) -> str:
    """Millimetres with their unit: "0.80 mm", or inches with two more digits, as their size asks for."""
    return _amount(millimetres, "mm", digits)


def between(low: object, high: object) -> str:
    """An interval of shares as per cent, "" where it is not known."""
    if not (known(low) and known(high)):
        return ""
    digits = 2 if _number(high) < 0.1 else 1
    return say("{low} to {high}", low=decimal(100 * _number(low), digits), high=share(high, digits))


def duration(seconds: object) -> str:
    """Seconds as a supervisor says them: "45 s", "8 min", "1 h 20 min"."""
    return locale().words.duration(_number(seconds)) if known(seconds) else UNKNOWN


def clock(us: object, calendar: Calendar) -> str:
    """Clock time of a moment [us] in plant time: "18:04", "" where it is not known."""
    return f"{_local(us, calendar):%H:%M}" if known(us) else ""


def day(date: dt.date) -> str:
    """A date that no country reads wrongly: "Mon 2 Nov 2026"."""
    return locale().words.date(date)


def short_day(date: dt.date) -> str:
    """A date where its year is plain: "Mon 2 Nov"."""
    return locale().words.short_date(date)


def moment(us: object, calendar: Calendar) -> str:
    """Date and clock time of a moment [us] in plant time: "Mon 2 Nov 2026, 18:04", "" where it is not known."""
    return written(_local(us, calendar)) if known(us) else ""


def written(at: dt.datetime) -> str:
    """Date and clock time as they stand there: "Mon 2 Nov 2026, 18:04"."""
    return f"{day(at.date())}, {at:%H:%M}"


def date_of(us: object, calendar: Calendar) -> dt.date:
    """The date a moment [us] has on the plant's clock."""
    return _local(us, calendar).date()


def _local(us: object, calendar: Calendar) -> dt.datetime:
    return calendar.local_time(int(us))  # type: ignore[call-overload]


def _amount(value: object, kept: str, digits: int) -> str:
    return locale().words.amount(_number(value), kept, digits) if known(value) else UNKNOWN


def _number(value: object) -> float:
    return float(value)  # type: ignore[arg-type]
