"""From counter readings to strokes: rollover, reset, glitch and gap.

The counter is believed, the clock is not: between two accepted readings lie exactly as many strokes as the counter
rose.  What cannot be true is named and set aside, never mended by guessing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from shared.durations import SECOND_US
from shared.phrases import Phrase, phrase
from shared.reasons.rows import COUNTER_FELL, COUNTER_ROSE

Ints: TypeAlias = npt.NDArray[np.int64]


#: Share of the rated speed above which a rise cannot be true; common practice, no source.
GLITCH_FACTOR = 1.5

#: Readings that must go on from a jump before the jump is believed; common practice, no source.
BELIEVED_AFTER = 5


@dataclass(frozen=True)
class Reading:
    """The last accepted reading of a press counter."""

    time_us: int
    counter: int
    feeds: int | None = None


@dataclass(frozen=True)
class Readings:
    """Readings of one press in counter order: time [us], counter, feeds (-1 = not known), where each was read."""

    time_us: Ints
    counter: Ints
    feeds: Ints
    load_id: Ints
    line: Ints

    def __len__(self) -> int:
        return len(self.time_us)

    def part(self, first: int, after: int) -> Readings:
        """Return the readings from one place up to another, which is left out."""
        columns = (self.time_us, self.counter, self.feeds, self.load_id, self.line)
        return Readings(*(column[first:after] for column in columns))


@dataclass(frozen=True)
class Glitch:
    """A reading that cannot be true: its place among the readings and why."""

    index: int
    reason: Phrase


@dataclass(frozen=True)
class Counted:
    """Contiguous intervals (start, end] between accepted readings: strokes, and strokes with strip fed (-1 unknown)."""

    start_us: Ints
    end_us: Ints
    strokes: Ints
    feeds: Ints
    glitches: tuple[Glitch, ...] = ()
    resets_us: tuple[int, ...] = ()
    settled: bool = True
    last: Reading | None = field(default=None)

    @property
    def total(self) -> int:
        """Strokes over all intervals."""
        return int(self.strokes.sum())


def _limit(elapsed_us: Ints, limit_spm: float | None) -> Ints:
    """Return the most strokes that can lie in each span; one more than the speed allows, since clocks round."""
    if limit_spm is None:
        return np.full(len(elapsed_us), np.iinfo(np.int64).max)
    return (elapsed_us * (limit_spm / 60 / SECOND_US)).astype(np.int64) + 1


@dataclass
class _Judge:
    """Walks over the doubtful readings only; what lies between them is taken as it stands."""

    time_us: Ints
    counter: Ints
    limit_spm: float | None
    modulus: int | None
    ahead: int
    kept: npt.NDArray[np.bool_] = field(init=False)
    fixed: dict[int, int] = field(default_factory=dict)
    glitches: list[Glitch] = field(default_factory=list)
    resets_us: list[int] = field(default_factory=list)
    settled: bool = True

    def __post_init__(self) -> None:
        self.kept = np.ones(len(self.time_us), dtype=bool)

    def possible(self, before: int, after: int) -> bool:
        """Tell whether the counter can have gone on from one reading to the other."""
        rise = int(self.counter[after] - self.counter[before])
        return 0 <= rise <= self.most(before, after)

    def most(self, before: int, after: int) -> int:
        """Return the most strokes between two readings."""
        return int(_limit(self.time_us[after : after + 1] - self.time_us[before], self.limit_spm)[0])

    def walk(self, doubtful: Ints) -> None:
        """Judge each doubtful reading (index into the readings, 0 = the carried one)."""
        judged = 0
        for first in doubtful.tolist():
            if first > judged:
                judged = self._settle(first)

    def _settle(self, first: int) -> int:
        """Find the reading with which the counter goes on; what lies before it is set aside."""
        before = first - 1
        for now in range(first, len(self.time_us)):
            if (now > first and self.possible(before, now)) or self.accept(before, now):
                return now
            self.kept[now] = False
        return len(self.time_us)

    def accept(self, before: int, now: int) -> bool:
        """Decide one reading that does not simply go on: rollover, reset and jump are taken, glitches are not."""
        rise = int(self.counter[now] - self.counter[before])
        if rise < 0:
            return self._accept_fall(before, now, rise)
        if self._goes_on(before, now):
            self._new_start(now, 0)
            return True
        told = phrase(COUNTER_ROSE, rise=rise, counter=int(self.counter[now]), most=self.most(before, now))
        return self._set_aside(now, told)

    def _accept_fall(self, before: int, now: int, rise: int) -> bool:
        if self.modulus is not None and 0 <= rise + self.modulus <= self.most(before, now):
            self.fixed[now] = rise + self.modulus
            return True
        if now + 1 < len(self.time_us):
            back = self.possible(before, now + 1) and not self.possible(now, now + 1)
            if back:
                return self._set_aside(now, phrase(COUNTER_FELL, fall=-rise, counter=int(self.counter[now])))
        else:
            self._leave_open(now)
        reading = int(self.counter[now])
        self._new_start(now, reading if reading <= self.most(before, now) else 0)
        return True

    def _goes_on(self, before: int, now: int) -> bool:
        """Tell whether the readings after a jump go on from it, and not from the reading before it."""
        last = now + BELIEVED_AFTER
        if last >= len(self.time_us):
            self._leave_open(now)
            return False
        after = range(now + 1, last + 1)
        return all(self.possible(i - 1, i) and not self.possible(before, i) for i in after)

    def _new_start(self, now: int, strokes: int) -> None:
        self.fixed[now] = strokes
        self.resets_us.append(int(self.time_us[now]))

    def _set_aside(self, now: int, reason: Phrase) -> bool:
        if self._is_own(now):
            self.glitches.append(Glitch(now, reason))
        return False

    def _leave_open(self, now: int) -> None:
        if self._is_own(now):
            self.settled = False

    def _is_own(self, now: int) -> bool:
        """Tell whether a reading is counted here; those ahead are judged by the day they belong to."""
        return now < len(self.time_us) - self.ahead


def count_strokes(
    readings: Readings,
    last: Reading | None,
    *,
    rated_spm: float | None,
    modulus: int | None,
    ahead: int = 0,
) -> Counted:
    """Turn counter readings into strokes per interval.

    `last` is the accepted reading before the first one (None at the very start, when the first reading only sets the
    start).  The final `ahead` readings are looked at to judge those before them and are not counted.
    A fall is a rollover where `modulus` explains it at 1.5 x `rated_spm`, else a reset whose strokes are the new
    reading; a rise beyond 1.5 x `rated_spm` is a glitch unless the readings after it go on from it.
    """
    time_us, counter, feeds = _with_last(readings, last)
    shift = len(time_us) - len(readings)
    if len(time_us) == 0:
        return _nothing()
    limit_spm = None if rated_spm is None else GLITCH_FACTOR * rated_spm
    elapsed = np.diff(time_us)
    rise = np.diff(counter)
    doubtful = np.flatnonzero((rise < 0) | (rise > _limit(elapsed, limit_spm))) + 1
    judge = _Judge(time_us, counter, limit_spm, modulus, ahead)
    if len(doubtful):
        judge.walk(doubtful)
    use = judge.kept.copy()
    if ahead:
        use[len(use) - ahead :] = False
    return _intervals(judge, time_us, counter=counter, feeds=feeds, use=use, shift=shift)


def _intervals(
    judge: _Judge, time_us: Ints, counter: Ints, feeds: Ints, use: npt.NDArray[np.bool_], shift: int
) -> Counted:
    taken = np.flatnonzero(use)
    if len(taken) == 0:
        return _nothing()
    t, c, f = time_us[taken], counter[taken], feeds[taken]
    strokes = np.diff(c)
    for index, value in judge.fixed.items():
        if use[index]:
            strokes[np.searchsorted(taken, index) - 1] = value
    known = (f[1:] >= 0) & (f[:-1] >= 0)
    fed = np.where(known, np.minimum(_rise_of_feeds(f, strokes, judge.modulus), strokes), -1)
    return Counted(
        start_us=t[:-1],
        end_us=t[1:],
        strokes=strokes,
        feeds=fed,
        glitches=tuple(Glitch(g.index - shift, g.reason) for g in judge.glitches),
        resets_us=tuple(judge.resets_us),
        settled=judge.settled,
        last=Reading(int(t[-1]), int(c[-1]), int(f[-1]) if f[-1] >= 0 else None),
    )


def _rise_of_feeds(feeds: Ints, strokes: Ints, modulus: int | None) -> Ints:
    """Return the rise of the feed counter; a fall is a rollover where `modulus` explains it, else a reset."""
    rise = np.diff(feeds)
    rolled = rise + (modulus or 0)
    after_fall = np.where((rolled >= 0) & (rolled <= strokes), rolled, feeds[1:])
    return np.where(rise < 0, after_fall, rise)


def _with_last(readings: Readings, last: Reading | None) -> tuple[Ints, Ints, Ints]:
    if last is None:
        return readings.time_us, readings.counter, readings.feeds
    return (
        np.concatenate(([last.time_us], readings.time_us)),
        np.concatenate(([last.counter], readings.counter)),
        np.concatenate(([-1 if last.feeds is None else last.feeds], readings.feeds)),
    )


def _nothing() -> Counted:
    none = np.empty(0, dtype=np.int64)
    return Counted(none, none, none, none)
