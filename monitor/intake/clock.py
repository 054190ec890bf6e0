"""Plant time to instants: where a clock change makes a wall time happen twice or not at all."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from monitor.intake.batch import Mask, Whole
from shared.durations import DAY_S, SECOND_US
from shared.errors import PlantError
from shared.phrases import phrase
from shared.reasons.files import CORRECT_NAME, ZONE_NAME

#: Where the zone is named; names stand in no catalogue.
_ENTRY = "plant.toml, timezone"


@dataclass(frozen=True)
class Instants:
    """Instants of wall times [us]: `later_us` is the second pass where `twice`, else the same as `us`.

    Where `never` is true the wall time was skipped by a clock change and `us` means nothing.
    """

    us: Whole
    later_us: Whole
    twice: Mask
    never: Mask


def to_instants(local_us: Whole, zone: str) -> Instants:
    """Instants of plant wall times, given as microseconds since 1970 by that clock."""
    none = np.zeros(len(local_us), dtype=bool)
    if not len(local_us):
        return Instants(local_us, local_us, none, none)
    starts_us, offsets_us = _stretches(zone, _year(local_us.min()) - 1, _year(local_us.max()) + 1)
    local_starts_us = starts_us + offsets_us
    first, last = np.searchsorted(local_starts_us, [local_us.min(), local_us.max()], side="right") - 1
    # One stretch and no clock change near: the usual case, and the quick one.
    quiet_from = starts_us[first] + offsets_us[first - 1] if first else local_us.min()
    quiet_to = starts_us[last + 1] + offsets_us[last] if last + 1 < len(starts_us) else local_us.max() + 1
    if first == last and quiet_from <= local_us.min() and local_us.max() < quiet_to:
        us = local_us - offsets_us[first]
        return Instants(us, us, none, none)
    return _across_changes(local_us, starts_us, offsets_us)


def _across_changes(local_us: Whole, starts_us: Whole, offsets_us: Whole) -> Instants:
    place = np.searchsorted(starts_us + offsets_us, local_us, side="right") - 1
    before = np.maximum(place - 1, 0)
    ends_us = np.append(starts_us[1:] + offsets_us[:-1], np.iinfo(np.int64).max)
    twice = (place > 0) & (local_us < starts_us[place] + offsets_us[before])
    later_us = local_us - offsets_us[place]
    us = np.where(twice, local_us - offsets_us[before], later_us)
    return Instants(us, later_us, twice, local_us >= ends_us[place])


def _year(us: int) -> int:
    return int(np.datetime64(int(us), "us").astype("datetime64[Y]").astype(int)) + 1970


def _stretches(zone: str, first_year: int, last_year: int) -> tuple[Whole, Whole]:
    """Start of each stretch of one offset [us UTC] and the offset [us], from the start of the first year."""
    start = int(dt.datetime(first_year, 1, 1, tzinfo=dt.UTC).timestamp())
    changes = [(start, _offset_s(zone, start))]
    for year in range(first_year, last_year + 1):
        changes.extend(_changes(zone, year))
    seconds = np.array(changes, dtype=np.int64)
    return seconds[:, 0] * SECOND_US, seconds[:, 1] * SECOND_US


@cache
def _changes(zone: str, year: int) -> tuple[tuple[int, int], ...]:
    """Instants [s UTC] of a year at which another offset [s] begins."""
    first = int(dt.datetime(year, 1, 1, tzinfo=dt.UTC).timestamp())
    last = int(dt.datetime(year + 1, 1, 1, tzinfo=dt.UTC).timestamp())
    return tuple(
        _change_between(zone, day, day + DAY_S)
        for day in range(first, last, DAY_S)
        if _offset_s(zone, day) != _offset_s(zone, day + DAY_S)
    )


def _change_between(zone: str, low: int, high: int) -> tuple[int, int]:
    before = _offset_s(zone, low)
    while high - low > 1:
        middle = (low + high) // 2
        if _offset_s(zone, middle) == before:
            low = middle
        else:
            high = middle
    return high, _offset_s(zone, high)


def _offset_s(zone: str, utc_s: int) -> int:
    offset = dt.datetime.fromtimestamp(utc_s, _zone(zone)).utcoffset()
    return int(offset.total_seconds()) if offset else 0


@cache
def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise PlantError(_ENTRY, repr(name), phrase(ZONE_NAME), phrase(CORRECT_NAME)) from None
