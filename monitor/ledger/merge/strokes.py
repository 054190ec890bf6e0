"""Merging counter readings into the parts of their press-days."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np
import pyarrow as pa

from monitor.ledger.bulk.parts import BulkPart, PartWriter, to_merge
from monitor.ledger.bulk.readings import NewReadings, StoredReadings, by_press_day, in_order
from monitor.ledger.merge.accounts import Delivery
from monitor.ledger.merge.deliveries import Deliveries
from monitor.ledger.merge.outcome import Merge
from monitor.ledger.merge.settle import History, Identity, Settled, Terms, settle
from shared.calendar import Calendar
from shared.durations import DAY_US

# Strokes between two readings of one tick where the press has no rated speed: 1.5 * 2,000 / 60 + 1
# (common practice, no source).
UNRATED_BURST = 51

_TWO_DAYS_US = 2 * DAY_US


def merge_strokes(
    parts: PartWriter,
    rows: pa.Table,
    load_id: int,
    calendar: Calendar,
    burst: Mapping[str, int],
    deliveries: Deliveries,
    known_since: int,
) -> Merge:
    """Merge a batch of readings into the stored ones; its new parts are on their way to the disk on return."""
    result = Merge()
    days = list(by_press_day(rows, load_id, calendar))
    near = _near(parts, days)
    for press_id, of_press in groupby(days, key=lambda day: day.press_id):
        terms = Terms(press_id, burst.get(press_id, UNRATED_BURST), deliveries)
        merge = _PressMerge(parts, terms, _history(parts, press_id, known_since), result)
        merge.days(list(of_press), near.get(press_id, []))
    parts.flush()
    return result


def join_strokes(parts: PartWriter, due: list[BulkPart]) -> None:
    """Put one part in the place of several of a press-day."""
    readings = in_order(StoredReadings.joined(_read(parts, due)))
    parts.remove(due)
    _put(parts, due[0].press_id, due[0].day, readings)


def _near(parts: PartWriter, days: list[NewReadings]) -> dict[str, list[BulkPart]]:
    """Stored parts that may overlap the days or belong to them, by press."""
    if not days:
        return {}
    # Parts of the same press-day matter for tidying even where they do not overlap.
    from_us = min(int(day.readings.time[0]) for day in days) - _TWO_DAYS_US
    to_us = max(int(day.readings.time[-1]) for day in days) + _TWO_DAYS_US
    found = parts.find("strokes", {day.press_id for day in days}, from_us, to_us)
    return {press_id: list(of_press) for press_id, of_press in groupby(found, key=lambda part: part.press_id)}


@dataclass(frozen=True)
class _PressMerge:
    """Merges the days of one press."""

    parts: PartWriter
    terms: Terms
    history: History
    result: Merge

    def days(self, days: list[NewReadings], near: list[BulkPart]) -> None:
        """Merge days in order; `near` are the stored parts that may bear on them."""
        for number, day in enumerate(days, 1):
            removed = self._day(day, near)
            if removed and number < len(days):
                # A part may reach into the next day where the plant day once began at another hour.
                self.parts.flush()
                near = _near(self.parts, days[number:]).get(day.press_id, [])

    def _day(self, new: NewReadings, near: list[BulkPart]) -> bool:
        time = new.readings.time
        overlapping = [part for part in near if part.meets(int(time[0]), int(time[-1]))]
        if not overlapping and bool((time[1:] > time[:-1]).all()):
            settled, removed = Settled(new.readings), False
        else:
            settled = self._settle(new, overlapping)
            removed = bool(settled.replaced)
            near = [part for part in near if part not in overlapping] if removed else near
        _count(self.result, new, settled)
        if len(settled.accepted.time):
            merged = _add(self.parts, new, settled.accepted, near)
            removed = removed or merged
        return removed

    def _settle(self, new: NewReadings, overlapping: list[BulkPart]) -> Settled:
        pieces = _read(self.parts, overlapping)
        stored = StoredReadings.joined([new.readings.at(slice(0, 0)), *pieces])
        low, high = int(new.readings.time[0]), int(new.readings.time[-1])
        times = set(new.readings.time.tolist()) if (kept := self._kept(low, high)) else set()
        terms = replace(self.terms, kept={time: some for time, some in kept.items() if time in times})
        settled = settle(stored, new.readings, terms, self.history)
        if settled.replaced:
            _take_out(self.parts, overlapping, pieces, settled.replaced)
        if settled.kept:
            kept_now = {(new.press_id, time): some for time, some in settled.kept.items()}
            self.terms.deliveries.keep("strokes", kept_now)
        return settled

    def _kept(self, from_us: int, to_us: int) -> dict[int, list[Delivery]]:
        return self.terms.deliveries.of_times(self.terms.press_id, from_us, to_us)


def _count(result: Merge, new: NewReadings, settled: Settled) -> None:
    result.repeated += settled.repeated
    result.corrected += settled.corrected
    result.conflicts += settled.conflicts
    result.again += settled.again
    result.earlier.add(settled.earlier)
    result.new += len(new.readings.time) - settled.repeated - settled.corrected - len(settled.conflicts)
    result.taken += len(settled.accepted.time)
    if len(settled.accepted.time):
        result.add_press_day(new.press_id, new.day)
        result.reach_back(int(settled.accepted.time[0]))


def _add(parts: PartWriter, new: NewReadings, accepted: StoredReadings, near: list[BulkPart]) -> bool:
    """Add readings as a part, together with small parts of the day that are due; returns whether there were any."""
    day = new.day.isoformat()
    due = to_merge((part for part in near if part.day == day), len(accepted.time))
    if due:
        accepted = in_order(StoredReadings.joined([*_read(parts, due), accepted]))
        parts.remove(due)
    _put(parts, new.press_id, day, accepted)
    return bool(due)


def _take_out(
    parts: PartWriter, overlapping: list[BulkPart], pieces: list[StoredReadings], replaced: list[int]
) -> None:
    """Write the parts anew without the replaced readings; the old ones stay for the versions that had them."""
    left = np.ones(sum(part.rows for part in overlapping), np.bool_)
    left[replaced] = False
    parts.remove(overlapping)
    bounds = np.cumsum([part.rows for part in overlapping])[:-1]
    for part, piece, keep in zip(overlapping, pieces, np.split(left, bounds), strict=True):
        if keep.any():
            _put(parts, part.press_id, part.day, piece.at(keep))


def _put(parts: PartWriter, press_id: str, day: str, readings: StoredReadings) -> None:
    span = int(readings.time[0]), int(readings.time[-1])
    parts.add("strokes", press_id, day=day, rows=readings.batch(press_id), span_us=span, loads=readings.loads())


def _read(parts: PartWriter, wanted: Iterable[BulkPart]) -> list[StoredReadings]:
    return [StoredReadings.of(rows) for rows in parts.read(wanted, StoredReadings._fields)]


def _history(parts: PartWriter, press_id: str, version: int) -> History:
    def superseded(from_us: int, to_us: int) -> frozenset[Identity]:
        if not version:
            return frozenset()
        pieces = _read(parts, parts.find("strokes", [press_id], from_us, to_us, removed_by=version))
        return frozenset(row for piece in pieces for row in _identities(piece, from_us, to_us))

    return superseded


def _identities(readings: StoredReadings, from_us: int, to_us: int) -> Iterable[Identity]:
    low, high = np.searchsorted(readings.time, [from_us, to_us + 1])
    columns = (readings.time, readings.counter, readings.feeds, readings.recorded_at)
    return zip(*(column[low:high].tolist() for column in columns), strict=True)
