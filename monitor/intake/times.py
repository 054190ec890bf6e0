"""Cells to instants: ISO 8601 with an offset is taken as it is, without one it is plant time."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, replace

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from monitor.intake.batch import Mask, Whole
from monitor.intake.clock import to_instants
from monitor.intake.values import WrongType, is_text, mask_of, plain_text
from shared.calendar import Calendar
from shared.durations import DAY_US, SECOND_US
from shared.plant import Plant

INSTANT = pa.timestamp("us", "UTC")
_WALL = pa.timestamp("us")
_LOW_US = int(dt.datetime(1990, 1, 1, tzinfo=dt.UTC).timestamp()) * SECOND_US
_HIGH_US = int(dt.datetime(2100, 1, 1, tzinfo=dt.UTC).timestamp()) * SECOND_US
_EPOCH_ORDINAL = dt.date(1970, 1, 1).toordinal()
_US_NS = 1_000
_TICK_NS = {"ns": 1, "us": _US_NS, "ms": 1_000_000, "s": 1_000_000_000, "D": 86_400_000_000_000}
# Shorter than this there are no minutes, and Arrow would take the hour or the date alone.
_TO_THE_MINUTE = len("2026-11-02T06:00")
# Dates that surely exist, so that a cast of what matches cannot fail; 29 February is looked at by itself.
_DATE = (
    r"20[0-9]{2}-((0[13578]|1[02])-(0[1-9]|[12][0-9]|3[01])"
    r"|(0[469]|11)-(0[1-9]|[12][0-9]|30)|02-(0[1-9]|1[0-9]|2[0-8]))"
)
_CLOCK = r"[T ]([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9](\.[0-9]{1,6})?)?"
_OFFSET = r"(Z|[+-]([01][0-9]|2[0-3]):?[0-5][0-9])"
_ENDS_IN_OFFSET = re.compile(r":\d\d(\.\d+)?(Z|[+-][\d:]+)$")
_ISO = re.compile(
    r"(\d{4}-\d\d-\d\d)(?:[Tt ](\d\d)((?::\d\d(?::\d\d(?:[.,]\d+)?)?)?) ?(Z|z|[+-]\d\d(?::?\d\d)?)?)?", re.ASCII
)


@dataclass(frozen=True)
class ColumnTimes:
    """Instants of one column [us]; `later_us` is the second pass where a wall time happened `twice`.

    `missing` cells are empty, `bad` ones hold no time, `never` ones a wall time that a clock change skipped,
    `plant` ones came as a time without an offset.
    """

    us: Whole
    later_us: Whole
    missing: Mask
    bad: Mask
    never: Mask
    twice: Mask
    plant: Mask

    def take(self, places: Whole | Mask) -> ColumnTimes:
        """The times of some rows."""
        return ColumnTimes(**{name: getattr(self, name)[places] for name in self.__dataclass_fields__})

    def settled(self, us: Whole) -> ColumnTimes:
        """The same times with every wall time that happened twice settled to these instants."""
        return ColumnTimes(
            us,
            us,
            missing=self.missing,
            bad=self.bad,
            never=self.never,
            twice=np.zeros_like(self.twice),
            plant=self.plant,
        )

    def column(self) -> pa.Array:
        """The canonical column, null where there is no time."""
        nothing = self.missing | self.bad | self.never
        return pa.array(self.us, mask=nothing if nothing.any() else None).view(INSTANT)


@dataclass(frozen=True)
class Dates:
    """What a bare date in a column of times means: the start of that plant day, or the last second `to_end`."""

    calendar: Calendar
    to_end: bool = False

    def instants(self, midnights_us: Whole) -> Whole:
        """Instants of dates, given as their midnights on a clock in UTC [us]."""
        days, places = np.unique(midnights_us // DAY_US, return_inverse=True)
        return np.array([self._instant(int(day)) for day in days], dtype=np.int64)[places]

    def _instant(self, day: int) -> int:
        date = dt.date.fromordinal(_EPOCH_ORDINAL + day)
        if self.to_end:
            return self.calendar.day_start_us(date + dt.timedelta(days=1)) - SECOND_US
        return self.calendar.day_start_us(date)


@dataclass(frozen=True)
class _Read:
    us: Whole
    missing: Mask
    bad: Mask
    plant: Mask
    bare: Mask


def parse_times(raw: pa.Array, zone: str, dates: Dates | bool) -> ColumnTimes:
    """Instants of a column of text, timestamps or dates; a bare date is taken where `dates` says what it means.

    True is its midnight in the zone.  Raises WrongType.
    """
    if dates is True:
        dates = Dates(Calendar(Plant(timezone=zone)))
    read = _read(raw, bool(dates))
    outside = ~read.missing & ((read.us < _LOW_US) | (read.us >= _HIGH_US))
    read = replace(read, bad=read.bad | outside)
    times = _as_instants(read, zone)
    bare = read.bare & ~read.missing & ~read.bad
    if not dates or not bare.any():
        return times
    us = times.us.copy()
    us[bare] = dates.instants(read.us[bare])
    return replace(times, us=us, later_us=np.where(bare, us, times.later_us))


def _read(raw: pa.Array, dates: bool) -> _Read:
    if is_text(raw.type):
        return _from_text(raw, dates)
    if pa.types.is_timestamp(raw.type):
        return _whole(raw, plant=raw.type.tz is None)
    if pa.types.is_date(raw.type) and dates:
        read = _whole(raw, plant=True)
        return replace(read, plant=np.zeros_like(read.plant), bare=read.plant)
    raise WrongType(str(raw.type))


def _as_instants(read: _Read, zone: str) -> ColumnTimes:
    no = np.zeros(len(read.us), dtype=bool)
    plant = read.plant & ~read.missing & ~read.bad
    if not plant.any():
        return ColumnTimes(read.us, read.us, missing=read.missing, bad=read.bad, never=no, twice=no, plant=plant)
    if plant.all():
        found = to_instants(read.us, zone)
        return ColumnTimes(
            found.us,
            found.later_us,
            missing=read.missing,
            bad=read.bad,
            never=found.never,
            twice=found.twice,
            plant=plant,
        )
    found = to_instants(read.us[plant], zone)
    us, later_us, never, twice = read.us.copy(), read.us.copy(), no.copy(), no.copy()
    us[plant], later_us[plant], never[plant], twice[plant] = found.us, found.later_us, found.never, found.twice
    return ColumnTimes(us, later_us, missing=read.missing, bad=read.bad, never=never, twice=twice, plant=plant)


def _whole(stamps: pa.Array, plant: bool) -> _Read:
    """A column of timestamps or dates that are all of one sort; what 64 bits of microseconds do not hold is bad."""
    missing = mask_of(pc.is_null(stamps))
    plain = stamps.view(pa.int32()).cast(pa.int64()) if pa.types.is_date32(stamps.type) else stamps.view(pa.int64())
    ticks: Whole = pc.fill_null(plain, 0).to_numpy(zero_copy_only=False)
    tick_ns = _TICK_NS["D" if pa.types.is_date32(stamps.type) else getattr(stamps.type, "unit", "ms")]
    if tick_ns < _US_NS:
        no = np.zeros(len(ticks), dtype=bool)
        return _Read(ticks // (_US_NS // tick_ns), missing, no, np.full(len(ticks), plant), no)
    factor = tick_ns // _US_NS
    bad = np.abs(ticks // 2) > np.iinfo(np.int64).max // factor // 2 - 1
    us = np.where(bad, 0, ticks) * factor
    return _Read(us, missing, bad & ~missing, np.full(len(ticks), plant), np.zeros(len(ticks), dtype=bool))


def _from_text(raw: pa.Array, dates: bool) -> _Read:
    text = raw if pa.types.is_string(raw.type) else pc.cast(raw, pa.string())
    shortest = pc.min(pc.binary_length(text)).as_py()
    if shortest is not None and shortest >= _TO_THE_MINUTE:
        # Most columns are of one sort throughout, and trying the other sort first is slow.
        plant = not _ENDS_IN_OFFSET.search(text.drop_null()[0].as_py())
        try:
            return _whole(pc.cast(text, _WALL if plant else INSTANT), plant)
        except pa.ArrowInvalid:
            pass
    return _cell_by_cell(plain_text(raw), dates)


def _cell_by_cell(text: pa.Array, dates: bool) -> _Read:
    """Times of mixed or doubtful cells: the usual shapes at once, each other one by itself."""
    missing = mask_of(pc.is_null(text))
    us, plant, open_ = np.zeros(len(text), dtype=np.int64), np.zeros(len(text), dtype=bool), ~missing
    bare = np.zeros(len(text), dtype=bool)
    for pattern, kind in ((f"^{_DATE}{_CLOCK}$", _WALL), (f"^{_DATE}{_CLOCK}{_OFFSET}$", INSTANT)):
        fits = mask_of(pc.match_substring_regex(text, pattern))
        us[fits] = _whole(pc.cast(text.filter(pa.array(fits)), kind), plant=kind == _WALL).us
        plant |= fits & (kind == _WALL)
        open_ &= ~fits
    for place in np.flatnonzero(open_).tolist():
        found = _one(text[place].as_py(), dates)
        if found:
            us[place], plant[place], bare[place] = found
            open_[place] = False
    return _Read(us, missing, open_, plant, bare)


def _one(text: str, dates: bool) -> tuple[int, bool, bool] | None:
    """Microseconds since 1970, whether by the plant's clock, and whether a bare date; 24:00 ends the day."""
    shape = _ISO.fullmatch(text)
    if not shape or (shape[2] is None and not dates) or (shape[2] and not shape[3] and not shape[4]):
        return None
    at_end = shape[2] == "24"
    clock = f"{'00' if at_end else shape[2] or '00'}{(shape[3] or ':00').replace(',', '.')}"
    try:
        moment = dt.datetime.fromisoformat(f"{shape[1]}T{clock}{(shape[4] or '').upper()}")
    except ValueError:
        return None
    if at_end and moment.time() != dt.time():
        return None
    plant = moment.tzinfo is None
    # In this order nothing passes the last year that Python knows.
    since = moment.replace(tzinfo=moment.tzinfo or dt.UTC) - dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
    since += dt.timedelta(days=at_end)
    bare = shape[2] is None
    return since // dt.timedelta(microseconds=1), plant and not bare, bare
