"""Laying a reason over what was entered for a stop before: which rows of `stops` say it, and nothing else."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from monitor.reckoning.press.press_day import EnteredStop
from shared.durations import FOREVER_US


def overlay(
    entered: Sequence[EnteredStop], from_us: int, to_us: int | None, reason: str, goes_on: bool = False
) -> list[EnteredStop]:
    """Return the rows to write so that `reason` holds in [from_us, to_us) and every other moment keeps its own.

    `entered` are the rows of the press that may bear on the stretch [us]; a row is named by its start.  `to_us` None
    is up to the end of the standstill.  `goes_on` tells that the standstill lasts beyond `to_us`, so that a row
    without an end goes on to speak of the rest.  The entry that began last speaks, as in `reckoning.stops`.
    """
    end_us = FOREVER_US if to_us is None else to_us
    ends = {row: _end(row, from_us, end_us, goes_on) for row in entered}
    within = [row for row in entered if from_us <= row.start_us < end_us]
    starts = {row.start_us for row in within}
    written: list[EnteredStop] = []
    for start, end in _stretches(ends, from_us, max([end_us, *(ends[row] for row in within)]), end_us):
        speaker = _speaker(ends, start)
        if start >= end_us and speaker not in within:
            continue  # What began before or after the stretch speaks for itself.
        said = reason if start < end_us or speaker is None else speaker.reason
        last = written[-1] if written else None
        if last and last.end_us == start and last.reason == said and start not in starts and start != end_us:
            written.pop()
            start = last.start_us
        written.append(EnteredStop(start, None if end == FOREVER_US else end, said))
    return written


def _end(row: EnteredStop, from_us: int, end_us: int, goes_on: bool) -> int:
    if row.end_us is not None:
        return row.end_us
    inside = from_us <= row.start_us < end_us
    return end_us if inside and not goes_on else FOREVER_US


def _stretches(ends: dict[EnteredStop, int], from_us: int, until_us: int, end_us: int) -> Iterator[tuple[int, int]]:
    """Yield the stretches in [from_us, until_us) in which the same rows hold."""
    edges = {from_us, end_us, until_us, *ends.values(), *(row.start_us for row in ends)}
    return pairwise(sorted(edge for edge in edges if from_us <= edge <= until_us))


def _speaker(ends: dict[EnteredStop, int], at_us: int) -> EnteredStop | None:
    """Return the row that began last of those that hold at a moment."""
    speaking = [row for row, end in ends.items() if row.start_us <= at_us < end]
    return max(speaking, key=lambda row: row.start_us, default=None)
