"""Weeks of a plant: seven plant days that begin on its first weekday, named after the ISO week of their Thursday."""

from __future__ import annotations

import datetime as dt
import re

from shared.errors import RequestError
from shared.phrases import phrase
from shared.plant import WEEKDAYS

_LABEL = re.compile(r"(\d{4})-W(\d{2})")
_THURSDAY = WEEKDAYS.index("thu")
_DAY = dt.timedelta(days=1)


def week_of(date: dt.date, week_start: str) -> str:
    """Return the week of a plant day, such as 2026-W45; `week_start` is a weekday such as `mon`."""
    first = date - _DAY * ((date.weekday() - WEEKDAYS.index(week_start)) % 7)
    year, week, _ = (first + _DAY * _to_thursday(week_start)).isocalendar()
    return f"{year:04}-W{week:02}"


def days_of(week: str, week_start: str) -> tuple[dt.date, dt.date]:
    """Return the plant days [first, after) of a week; raises RequestError for a week that does not exist."""
    match = _LABEL.fullmatch(week)
    try:
        thursday = dt.date.fromisocalendar(int(match[1]), int(match[2]), 4) if match else None
        if thursday is None:
            raise ValueError
        first = thursday - _DAY * _to_thursday(week_start)
        return first, first + 7 * _DAY
    except (ValueError, OverflowError):
        exists, mend = phrase("an ISO week that exists"), phrase("write it as 2026-W45")
        raise RequestError("--week", repr(week), exists, mend) from None


def weeks_until(week: str, count: int, week_start: str) -> list[str]:
    """Return `count` weeks, the last of them `week`, as far back as the calendar goes."""
    first, _ = days_of(week, week_start)
    most = min(count, (first - dt.date.min).days // 7 + 1)
    return [week_of(first - 7 * back * _DAY, week_start) for back in reversed(range(most))]


def _to_thursday(week_start: str) -> int:
    return (_THURSDAY - WEEKDAYS.index(week_start)) % 7
