"""The counter logger of a press: what it reads, and what it misses or gets wrong."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from sample_runs.simulate.book import PressSetup
from sample_runs.simulate.press import NO_STRIP, Played


@dataclass(frozen=True)
class LoggerHabits:
    """How a logger behaves; seconds since 1970 UTC where not said otherwise.

    A reading is taken every `every_s` and at each of `always_s`.  `gaps` lose the readings inside, `resets` set the
    counter to 0 right after the reading then, `glitches` add the given strokes to one reading.
    """

    every_s: int
    always_s: Sequence[int] = ()
    start_counter: int = 0
    gaps: Sequence[tuple[int, int]] = ()
    resets: Sequence[int] = ()
    glitches: dict[int, int] = field(default_factory=dict)


@dataclass(frozen=True)
class LoggedReadings:
    """What the logger wrote: one entry a reading; `true_strokes` counts from the start and knows no fault."""

    time_s: np.ndarray
    counter: np.ndarray
    feeds: np.ndarray | None
    true_strokes: np.ndarray
    glitch: np.ndarray


def read(press: PressSetup, played: Played, habits: LoggerHabits, from_s: int, to_s: int) -> LoggedReadings:
    """Read the counter of a press from `from_s` to `to_s`, both included."""
    times = _times(habits, from_s, to_s)
    stroke_s = np.asarray(played.stroke_s, dtype=np.int64)
    fed_s = stroke_s[np.asarray(played.stroke_mounting) != NO_STRIP]
    strokes = np.searchsorted(stroke_s, times, side="right")
    counter = strokes + habits.start_counter
    for reset in sorted(habits.resets):
        after = times > reset
        counter[after] = strokes[after] - np.searchsorted(stroke_s, reset, side="right")
    if press.counter_modulus is not None:
        counter = counter % press.counter_modulus
    glitch = np.isin(times, np.array(list(habits.glitches), dtype=np.int64))
    for moment, extra in habits.glitches.items():
        counter[times == moment] += extra
    feeds = np.searchsorted(fed_s, times, side="right") + habits.start_counter // 2 if press.feeds else None
    return LoggedReadings(times, counter, feeds, strokes, glitch)


def _times(habits: LoggerHabits, from_s: int, to_s: int) -> np.ndarray:
    regular = np.arange(from_s, to_s + 1, habits.every_s, dtype=np.int64)
    always = np.array([moment for moment in habits.always_s if from_s <= moment <= to_s], dtype=np.int64)
    times = np.unique(np.concatenate([regular, always, [from_s, to_s]]))
    for start, end in habits.gaps:
        lost = (times > start) & (times < end)
        if np.isin(times[lost], always).any():
            raise ValueError(f"the gap {start} to {end} would lose a reading that must be there")
        times = times[~lost]
    return times
