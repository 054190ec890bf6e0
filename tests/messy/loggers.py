"""Loggers that read seldom, and what can be known of a press from its readings alone (reckoning, sections 1 and 3)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import numpy as np

from sample_runs.simulate import clock
from sample_runs.simulate.book import PlantPlan, PressSetup
from sample_runs.simulate.logger import LoggedReadings, LoggerHabits, read
from sample_runs.simulate.press import Played
from tests.invented.jobs import Dice

HOUR_S, DAY_S = 3600, 86400
INTERVALS_S = (1, 10, 60, 300, HOUR_S, 0, 0, 0, DAY_S)
DENSE_S = 30
#: How much longer than a shift a gap may be whose strokes are still spread.
LATE_S = 300
UNKNOWN, RUNS, STANDS, UNRESOLVED = range(4)

Shift = tuple[str, str]


def seldom(dice: Dice, book: PlantPlan, press: PressSetup, played: Played, span: tuple[int, int]) -> LoggedReadings:
    """What a logger wrote that reads every so often or once a shift (0), with gaps; it knows no reset and no glitch."""
    from_s, to_s = span
    ways = INTERVALS_S if to_s - from_s <= 2 * DAY_S else INTERVALS_S[2:]
    every_s = int(ways[int(dice.rng.integers(len(ways)))])
    dice.happened.add(f"read every {every_s} s" if every_s else "read once a shift")
    gaps = list(_gaps(dice, span)) if every_s and every_s < HOUR_S else []
    always = [] if every_s else _shift_ends(dice, book, press, span)
    start = int(dice.rng.integers(0, 5_000_000))
    if press.counter_modulus is not None:
        start %= press.counter_modulus
    found = read(press, played, LoggerHabits(every_s or 10 * DAY_S, always, start, gaps), from_s, to_s)
    if press.counter_modulus and max(rise for _, _, rise in intervals(found)) > press.counter_modulus // 2:
        # A counter that may have rolled over twice between two readings tells nobody how many strokes there were.
        return read(press, played, LoggerHabits(DENSE_S, (), start), from_s, to_s)
    return found


def _shift_ends(dice: Dice, book: PlantPlan, press: PressSetup, span: tuple[int, int]) -> list[int]:
    """A reading at the end of each shift: on it, within the minute after it, or five minutes late."""
    late = dice.one_of(("at once", "in the minute", "five minutes"))
    ends = sorted({window.end_s for window in clock.windows(book, press.press_id, *span)})
    delays = {"at once": (0, 1), "in the minute": (1, 60), "five minutes": (LATE_S, LATE_S + 1)}
    return [end + int(dice.rng.integers(*delays[late])) for end in ends if end + LATE_S < span[1]]


def _gaps(dice: Dice, span: tuple[int, int]) -> Iterator[tuple[int, int]]:
    """A stretch of 13 hours or more in which nothing is read."""
    if dice.chance(0.4):
        length = min(int(dice.rng.choice([13 * HOUR_S, 2 * DAY_S])), span[1] - span[0] - 2 * HOUR_S)
        begin = int(dice.rng.integers(span[0] + HOUR_S, span[1] - length))
        dice.happened.add("long gap")
        yield begin, begin + length


@dataclass(frozen=True)
class Seen:
    """What readings say of a press second by second, from `from_s` on.

    `state` is one of UNKNOWN, RUNS, STANDS and UNRESOLVED.  `open` marks seconds of which the rules leave open whether
    they run or not: a short stretch without a stroke beside one that nobody saw, or a gap whose strokes leave no room
    for a stop at rated speed.
    """

    from_s: int
    state: np.ndarray
    open: np.ndarray

    def standstills(self) -> list[tuple[int, int]]:
        """Stretches in which the press stood, in seconds since 1970 UTC."""
        return [(a + self.from_s, b + self.from_s) for a, b in stretches(self.state == STANDS)]


def seen(readings: LoggedReadings, from_s: int, to_s: int, stop_after_s: float, slowest_spm: float) -> Seen:
    """What can be known: strokes within `stop_after_s` run, a counter that stays stands, the rest nobody saw.

    `slowest_spm` is the rated speed of the press or of the slowest die.
    """
    state = np.full(to_s - from_s, UNKNOWN, dtype=np.int8)
    left_open = np.zeros(len(state), dtype=bool)
    fell = _resets(readings)
    for begin, end, rise in intervals(readings):
        seen_s = end - begin <= stop_after_s
        if end in fell and not seen_s:
            # What ran between the last reading and the reset nobody knows.
            state[begin - from_s : end - from_s] = UNRESOLVED
            continue
        state[begin - from_s : end - from_s] = STANDS if rise == 0 else RUNS if seen_s else UNRESOLVED
        if rise and not seen_s and end - begin - 60 * rise / slowest_spm <= stop_after_s:
            left_open[begin - from_s : end - from_s] = True
    for begin, end in stretches(state == STANDS):
        if end - begin <= stop_after_s:
            near = {int(state[at]) for at in (begin - 1, end) if 0 <= at < len(state)}
            left_open[begin:end] |= bool(near & {UNRESOLVED, UNKNOWN})
            state[begin:end] = RUNS
    return Seen(from_s, state, left_open)


def _resets(readings: LoggedReadings) -> set[int]:
    """Times of readings that show no stroke, but another count: the counter was set back since the one before."""
    sound = ~readings.glitch
    times, strokes, counter = readings.time_s[sound], readings.true_strokes[sound], readings.counter[sound]
    return set(times[1:][(np.diff(strokes) == 0) & (np.diff(counter) != 0)].tolist())


def intervals(readings: LoggedReadings) -> Iterator[tuple[int, int, int]]:
    """Each time between two sound readings, with the strokes in it."""
    times, strokes = readings.time_s[~readings.glitch].tolist(), readings.true_strokes[~readings.glitch].tolist()
    for (begin, before), (end, after) in pairwise(zip(times, strokes, strict=True)):
        yield begin, end, after - before


def stretches(flags: np.ndarray) -> list[tuple[int, int]]:
    """First and past-last index of every stretch of true flags."""
    edges = np.diff(np.concatenate([[0], flags.astype(np.int8), [0]]))
    return list(zip(np.flatnonzero(edges == 1).tolist(), np.flatnonzero(edges == -1).tolist(), strict=True))


@dataclass
class Spread:
    """Strokes by shift, each from the least to the most that whole strokes in proportion to time can be.

    `left_open` are shifts of which the rules leave open what a gap gave them.
    """

    low: defaultdict[Shift, int]
    high: defaultdict[Shift, int]
    left_open: set[Shift]
    total: int = 0


def spread(
    book: PlantPlan, press: PressSetup, readings: LoggedReadings, cuts: list[int], span: tuple[int, int]
) -> Spread:
    """Strokes of each shift as readings give them; `cuts` are the moments at which something changed on the press."""
    line = clock.timeline(book, press.press_id, *span)
    lengths = [window.end_s - window.start_s for window in clock.windows(book, press.press_id, *span)]
    changes = np.diff(line.shift_of).astype(bool) | np.diff(line.planned)
    edges = np.unique([*cuts, *(np.flatnonzero(changes) + 1 + span[0]).tolist(), *_hours(book, span)])
    found = Spread(defaultdict(int), defaultdict(int), set())
    for begin, end, rise in intervals(readings):
        found.total += rise
        if not rise:
            continue
        if end - begin > max(lengths) + LATE_S:
            shift = line.names[line.shift_of[end - 1 - span[0]]]
            found.low[shift] += rise
            found.high[shift] += rise
            continue
        inside = edges[(edges > begin) & (edges < end)].tolist()
        for one, two in pairwise([begin, *inside, end]):
            shift = line.names[line.shift_of[one - span[0]]]
            share = Fraction(rise * (two - one), end - begin)
            found.low[shift] += share.__floor__()
            found.high[shift] += share.__ceil__()
            if end - begin > min(lengths) + LATE_S:
                found.left_open |= {shift, line.names[line.shift_of[end - 1 - span[0]]]}
    return found


def _hours(book: PlantPlan, span: tuple[int, int]) -> list[int]:
    quarters = np.arange(span[0], span[1], 900)
    return np.unique(clock.hour_starts_s(book.timezone, quarters)).tolist()
