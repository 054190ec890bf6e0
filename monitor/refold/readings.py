"""Counter readings of one press handed out a plant day at a time, read ahead in stretches of days."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future

import numpy as np
import pyarrow as pa

from monitor.ledger import Snapshot
from monitor.reckoning.press.counters import BELIEVED_AFTER, Ints, Readings
from shared.calendar import Calendar
from shared.durations import HOUR_US

#: Days read at once: few enough for memory at a reading a second, enough to spare look-ups.
_DAYS_A_STRETCH = 14


class DayReadings:
    """The readings of one press by plant day; `days` are the days on which it was read, in order."""

    def __init__(
        self, ledger: Snapshot, press_id: str, calendar: Calendar, days: Sequence[dt.date], reader: Executor
    ) -> None:
        self.days = days
        self._ledger = ledger
        self._press_id = press_id
        self._calendar = calendar
        self._reader = reader
        self._coming: Future[Readings] | None = None
        self._held: Readings = as_readings(ledger.strokes(press_id, 0, 0))
        self._span = (0, 0)

    def expect(self, first: int, last: int) -> None:
        """Begin to read days from place `first` to `last` in a thread of its own; no look-up is left to that thread."""
        last = min(last, first + _DAYS_A_STRETCH - 1, len(self.days) - 1)
        begin = self._calendar.day_start_us(self.days[first])
        end = self._calendar.day_start_us(self.days[last] + dt.timedelta(days=1))
        parts = [self._ledger.strokes_later(self._press_id, begin, end)]
        if last + 1 < len(self.days):
            ahead = self._calendar.day_start_us(self.days[last + 1])
            parts.append(self._ledger.strokes_later(self._press_id, ahead, ahead + HOUR_US))
        self._span = (begin, end)
        self._coming = self._reader.submit(_read, parts)

    def on(self, place: int, last: int) -> tuple[Readings, int]:
        """Return the readings of a day with those that follow, and how many follow; `last` is the last day wanted."""
        begin = self._calendar.day_start_us(self.days[place])
        end = self._calendar.day_start_us(self.days[place] + dt.timedelta(days=1))
        if not self._span[0] <= begin < self._span[1]:
            self.expect(place, max(place, last))
        if self._coming is not None:
            self._held = self._coming.result()
            self._coming = None
        low, high = (bisect_left(self._held.time_us, us) for us in (begin, end))
        after = min(high + BELIEVED_AFTER, len(self._held))
        return self._held.part(low, after), after - high


def _read(parts: Sequence[Callable[[], pa.Table]]) -> Readings:
    return as_readings(pa.concat_tables(part() for part in parts))


def as_readings(table: pa.Table) -> Readings:
    """Turn rows of `strokes` into arrays; feeds that are not known become -1."""
    feeds = table.column("feeds")
    return Readings(
        _ints(table.column("time").cast(pa.int64())),
        _ints(table.column("counter")),
        _ints(feeds.fill_null(-1)) if feeds.null_count < len(feeds) else np.full(len(feeds), -1, dtype=np.int64),
        _ints(table.column("load_id")),
        _ints(table.column("line")),
    )


def _ints(column: pa.ChunkedArray) -> Ints:
    return np.asarray(column.combine_chunks().to_numpy(zero_copy_only=False), dtype=np.int64)
