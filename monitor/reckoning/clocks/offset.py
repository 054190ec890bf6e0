"""Whether the clock of a press counter agrees with what was noted of the press.

A coil is mounted, a die set and a stop entered while the press stands.  If the press, by its counter, goes on through
many of these moments, but stands at nearly all of them once they are shifted by one and the same time, then the clock
of the counter is off by that time, or the notes are.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from monitor.reckoning.press.counters import Ints
from shared.durations import MINUTE_US, SECOND_US

#: Offsets that are tried: a forgotten summer time and a wrong neighbouring zone are within reach (common practice, no
#: source).
_REACH_US = 150 * MINUTE_US
_STEP_US = 5 * SECOND_US
#: An offset below this is left to how quickly people write things down (common practice, no source).
LEAST_US = MINUTE_US
#: Notes are written to the minute, up or down (common practice, no source).
_WRITTEN_US = MINUTE_US
#: A note that lies this far from a standstill speaks no louder than one that lies farther (common practice, no source).
_FAR_US = 5 * MINUTE_US
#: Notes closer together than this hardly speak independently of each other, and count once.
_APART_US = 30 * MINUTE_US
#: Fewest notes that can show an offset, and fewest that must contradict the clock as it is (common practice, no
#: source).
FEWEST, _CONTRADICT = 6, 3
#: So many notes, the newest, are looked at: a few weeks of a press (common practice, no source).
MOST = 80
#: How likely the agreement may be by chance, and the share of resampled notes that the interval covers.
_CHANCE, _COVERED = 1e-3, 0.99
_RESAMPLED = 200
#: A reading that comes so many times later than usual leaves a gap.
_GAP = 5

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Lag:
    """How far a counter's clock seems ahead of the notes [us, negative = behind], from low to high.

    It rests on `notes` notes, or groups of them, from `since_us` to `until_us` [us, by the notes].
    """

    offset_us: int
    low_us: int
    high_us: int
    notes: int
    since_us: int
    until_us: int


def newest(noted: Sequence[Sequence[int]]) -> list[tuple[int, ...]]:
    """The newest notes, those that lie close together as one, each with its moments [us] in order."""
    return _grouped(sorted(tuple(moments) for moments in noted if moments))[-MOST:]


def lags(groups: Sequence[tuple[int, ...]], time_us: Ints, counter: Ints) -> list[Lag]:
    """Offsets of a counter's clock against notes, one for each stretch of time with an offset of its own.

    `groups` holds for each note of `newest` the moments [us] at which the press stood, `time_us` [us] and `counter`
    the readings around them, in order of time.  Nothing is returned where the notes agree with the clock, are too
    few, or agree with no offset.
    """
    starts_us, ends_us, every_us = standstills(time_us, counter)
    if len(groups) < FEWEST or not len(starts_us):
        return []
    shifts = np.arange(-_REACH_US, _REACH_US + 1, _STEP_US)
    away = np.array([_away(moments, shifts, starts_us, ends_us, every_us + _WRITTEN_US) for moments in groups])
    return _found(_Told(groups, shifts, away))


def standstills(time_us: Ints, counter: Ints) -> tuple[Ints, Ints, int]:
    """Starts and ends of stretches in which the counter shows no strokes, and the usual time between readings [us].

    A gap between readings shows nothing, so the press may have stood in it.
    """
    length = np.diff(time_us)
    every_us = int(np.median(length)) if len(length) else 0
    still = (np.diff(counter) == 0) | (length > _GAP * every_us)
    edges = np.diff(np.concatenate(([0], still.astype(np.int8), [0])))
    return time_us[np.flatnonzero(edges == 1)], time_us[np.flatnonzero(edges == -1)], every_us


def _grouped(noted: list[tuple[int, ...]]) -> list[tuple[int, ...]]:
    groups: list[list[int]] = []
    for moments in noted:
        if not groups or moments[0] - groups[-1][0] >= _APART_US:
            groups.append([])
        groups[-1] += moments
    return [tuple(sorted(group)) for group in groups]


def _away(moments: Sequence[int], shifts: Ints, starts_us: Ints, ends_us: Ints, slack_us: int) -> Floats:
    """How far the moments lie from standstills, for each shift: 0 = in one, 1 = far."""
    at = np.array(moments)[:, None] + shifts[None, :]
    after = np.searchsorted(starts_us, at, side="right")
    since = np.where(after > 0, at - ends_us[np.maximum(after - 1, 0)], _FAR_US + slack_us)
    until = np.where(after < len(starts_us), starts_us[np.minimum(after, len(starts_us) - 1)] - at, _FAR_US + slack_us)
    distance = np.clip(np.minimum(since, until) - slack_us, 0, _FAR_US) / _FAR_US
    return np.asarray(distance.mean(axis=0))


@dataclass(frozen=True)
class _Told:
    """Groups of notes, the shifts tried, and how far each group lies from standstills at each of them."""

    groups: Sequence[tuple[int, ...]]
    shifts: Ints
    away: Floats

    def cut(self, begin: int, end: int) -> _Told:
        return _Told(self.groups[begin:end], self.shifts, self.away[begin:end])

    @cached_property
    def best(self) -> int:
        """Place of the shift at which the notes lie nearest to standstills, in the middle where several do."""
        low, high = self.plateau
        return (low + high) // 2

    @cached_property
    def plateau(self) -> tuple[int, int]:
        """First and last place of the shifts that are as good as the best, around the one nearest to none."""
        total = self.away.sum(axis=0)
        good = total <= total.min() + 1e-9
        at = min(np.flatnonzero(good).tolist(), key=lambda place: abs(int(self.shifts[place])))
        bad = np.flatnonzero(~good)
        after = int(np.searchsorted(bad, at))
        return int(bad[after - 1]) + 1 if after else 0, int(bad[after]) - 1 if after < len(bad) else len(good) - 1

    def lag(self) -> Lag | None:
        """The offset they show, None where they show none."""
        inside = self.away < 1e-9
        near = np.abs(self.shifts) <= LEAST_US
        agree = inside.sum(axis=0)
        fit = int(agree[self.best])
        if abs(int(self.shifts[self.best])) <= LEAST_US or fit - int(agree[near].max()) < _CONTRADICT:
            return None
        low_us, high_us = self._span()
        if (low_us <= LEAST_US and high_us >= -LEAST_US) or self._chance(inside, fit) > _CHANCE:
            return None
        middle_us = int(self.shifts[self.best])
        return Lag(
            middle_us,
            low_us,
            high_us=high_us,
            notes=len(self.groups),
            since_us=self.groups[0][0],
            until_us=self.groups[-1][-1],
        )

    def _span(self) -> tuple[int, int]:
        """From where to where the offset may lie [us]: what resampled notes show, and what fits as well."""
        weights = np.random.default_rng(0).multinomial(len(self.groups), self._even, size=_RESAMPLED)
        total = weights @ self.away
        # Standstills that come back every hour fit an hour on as well: what counts is the one nearest to the best.
        far = np.abs(np.arange(len(self.shifts)) - self.best)
        good = total <= total.min(axis=1, keepdims=True) + 1e-9
        shown = self.shifts[np.where(good, far, len(far)).argmin(axis=1)]
        low, high = np.quantile(shown, ((1 - _COVERED) / 2, (1 + _COVERED) / 2))
        first, last = self.plateau
        return min(int(low), int(self.shifts[first])), max(int(high), int(self.shifts[last]))

    @property
    def _even(self) -> Floats:
        return np.full(len(self.groups), 1 / len(self.groups))

    def _chance(self, inside: Bools, fit: int) -> float:
        """Chance that so many notes fit at one of the shifts tried, were notes and standstills strangers."""
        first, last = self.plateau
        tried = len(self.shifts) / (last - first + 1)
        return tried * _at_least(fit, len(self.groups), float(inside.mean()))


def _at_least(least: int, of: int, share: float) -> float:
    """Chance of so many or more out of some, each with the same share."""
    return math.fsum(math.comb(of, n) * share**n * (1 - share) ** (of - n) for n in range(least, of + 1))


def _found(told: _Told) -> list[Lag]:
    """Offsets of a stretch of notes, cut in two where two offsets are clearly better than one."""
    whole = told.lag()
    one = [whole] if whole else []
    cut = _cut(told)
    if not cut:
        return one
    parts = _found(told.cut(0, cut)) + _found(told.cut(cut, len(told.groups)))
    same = any(before.low_us <= after.high_us and after.low_us <= before.high_us for before, after in pairwise(parts))
    return one if same else parts


def _cut(told: _Told) -> int:
    """The place where two offsets are clearly better than one, 0 where there is none."""
    count = len(told.groups)
    if count < 2 * FEWEST:
        return 0
    upto = np.cumsum(told.away, axis=0)
    both = upto[:-1].min(axis=1) + (upto[-1] - upto[:-1]).min(axis=1)
    places = np.arange(FEWEST - 1, count - FEWEST)
    at = int(places[both[places].argmin()])
    return at + 1 if both[at] <= upto[-1].min() - _CONTRADICT else 0
