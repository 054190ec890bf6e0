"""How numbers and times are written: units beside them, a dash where nothing is known, never 0 in its place."""

from __future__ import annotations

import datetime as dt

import pandas as pd

UNKNOWN = "–"
_THIN = "\u202f"
_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_MICROSECOND = dt.timedelta(microseconds=1)


def known(value: object) -> bool:
    """Whether a cell holds anything: not None, NaN, NA or empty text."""
    return not (pd.isna(value) or value == "")  # type: ignore[call-overload]


def text(value: object) -> str:
    """A cell as text, "" where nothing is known."""
    return str(value) if known(value) else ""


def count(value: object) -> str:
    """Whole number with thin spaces between thousands."""
    return f"{_number(value):,.0f}".replace(",", _THIN).replace("-", "−") if known(value) else UNKNOWN


def decimal(value: object, digits: int = 1) -> str:
    """Number with a fixed count of digits after the point."""
    return f"{_number(value):,.{digits}f}".replace(",", _THIN).replace("-", "−") if known(value) else UNKNOWN


def share(value: object, digits: int | None = None) -> str:
    """A part of one as per cent; below 10 % with two digits unless told otherwise."""
    if not known(value):
        return UNKNOWN
    per_cent = 100 * _number(value)
    digits = digits if digits is not None else (2 if abs(per_cent) < 10 else 1)
    return f"{per_cent:.{digits}f}{_THIN}%".replace("-", "−")


def between(low: object, high: object) -> str:
    """An interval of shares as per cent, "" where it is not known."""
    if not (known(low) and known(high)):
        return ""
    digits = 2 if _number(high) < 0.1 else 1
    return f"{100 * _number(low):.{digits}f} to {100 * _number(high):.{digits}f}{_THIN}%"


def duration(seconds: object) -> str:
    """Seconds as a supervisor says them: "45 s", "8 min", "1 h 20 min"."""
    if not known(seconds):
        return UNKNOWN
    total = round(_number(seconds))
    if total < 60:
        return f"{total}{_THIN}s"
    minutes = round(total / 60)
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{minutes}{_THIN}min"
    return f"{hours}{_THIN}h {rest}{_THIN}min" if rest else f"{hours}{_THIN}h"


def clock(iso: str) -> str:
    """Clock time of an ISO text, plant time as it stands there: "18:04"."""
    return iso[11:16] if len(iso) >= 16 else ""


def day(date: dt.date) -> str:
    """A date that no country reads wrongly: "Mon 2 Nov 2026"."""
    return f"{date:%a} {date.day} {date:%b %Y}"


def short_day(date: dt.date) -> str:
    """A date where its year is plain: "Mon 2 Nov"."""
    return f"{date:%a} {date.day} {date:%b}"


def moment(iso: str) -> str:
    """Date and clock time of an ISO text: "Mon 2 Nov 2026, 18:04"."""
    return f"{day(dt.date.fromisoformat(iso[:10]))}, {clock(iso)}" if iso else ""


def us(iso: object) -> int | None:
    """Microseconds since 1970 UTC of an ISO text with offset, None where it is empty."""
    stamp = text(iso)
    return (dt.datetime.fromisoformat(stamp) - _EPOCH) // _MICROSECOND if stamp else None


def _number(value: object) -> float:
    return float(value)  # type: ignore[arg-type]
