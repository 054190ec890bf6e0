"""The open end: what the last fold leaves undecided, as it looks now.

These facts stand only until the next reading; they are reckoned anew with every load and never carried on.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from monitor.reckoning.fold.day import fold
from monitor.reckoning.fold.facts import label_columns, note_fact
from monitor.reckoning.press import changes
from monitor.reckoning.press.carry import Carry, Pending
from monitor.reckoning.press.counters import Ints, Reading, Readings
from monitor.reckoning.press.press_day import PressDay, in_order
from shared.facts import FoldFacts, TimeFact


@dataclass(frozen=True)
class OpenEnd:
    """Facts of the open end, and the state of the press with all that was noted after its last reading."""

    facts: FoldFacts
    carry: Carry


def close(day: PressDay, carry: Carry) -> OpenEnd:
    """Reckon the open end of a press whose last reading is in `carry`; the day's own readings are not looked at.

    Standing too short to be a stop counts as running, and a shift whose end lies less than a stop ahead is complete.
    """
    if carry.last is None:
        return OpenEnd(FoldFacts(), carry)
    folded = fold(replace(day, readings=_until(_end_of_shift(day, carry.last), carry.last), ahead=0), carry)
    state = folded.carry
    folded.facts.time.extend(_as_running(part) for part in state.pending)
    read_until = state.last.time_us if state.last else 0
    for event in in_order([event for event in day.events if event.time_us > read_until]):
        changed = changes.apply(event, state, day.press, day.dies)
        state = changed.carry
        folded.facts.mounts.extend(note_fact(note, state) for note in changed.notes)
    return OpenEnd(folded.facts, state)


def _end_of_shift(day: PressDay, last: Reading) -> int:
    ends = [w.end_us for w in day.plan.windows if 0 < w.end_us - last.time_us <= day.press.stop_after_us]
    return ends[0] if ends else last.time_us


def _until(end_us: int, last: Reading) -> Readings:
    count = 1 if end_us > last.time_us else 0
    feeds = -1 if last.feeds is None else last.feeds

    def column(value: int) -> Ints:
        return np.full(count, value, dtype=np.int64)

    return Readings(
        time_us=column(end_us), counter=column(last.counter), feeds=column(feeds), load_id=column(0), line=column(0)
    )


def _as_running(part: Pending) -> TimeFact:
    length_us = part.to_us - part.from_us
    return TimeFact(
        **label_columns(part.label),
        planned_us=length_us,
        running_us=length_us,
        extra_us=0 if part.planned else length_us,
    )
