"""How the counter loggers of a random plant behave: intervals, gaps, resets, rollovers and glitches.

Whatever they lose or get wrong leaves the truth exact: a gap holds no event, shift edge or full hour, a counter is
set back right after a reading, and a glitch spoils a reading on which nothing else depends.
"""

from __future__ import annotations

from bisect import bisect_right
from itertools import pairwise

import numpy as np

from sample_runs.simulate import clock
from sample_runs.simulate.book import PlantPlan, PressSetup
from sample_runs.simulate.logger import LoggerHabits
from sample_runs.simulate.press import Played
from sample_runs.simulate.script import Script
from tests.invented.jobs import Dice


def write_habits(
    dice: Dice, book: PlantPlan, press: PressSetup, script: Script, played: Played, window: tuple[int, int]
) -> LoggerHabits:
    """A logger that reads at every event, shift edge and full hour, and regularly between."""
    from_s, to_s = window
    edges = {from_s, to_s} | {event.at_s for event in script.events}
    for shift in clock.windows(book, press.press_id, from_s, to_s):
        edges |= {edge for edge in (shift.start_s, shift.end_s) if from_s <= edge <= to_s}
    quarters = np.arange(from_s, to_s + 1, 900)
    hours = clock.hour_starts_s(book.timezone, quarters)
    edges |= {int(hour) for hour in hours if hour >= from_s}
    always = sorted(edges)
    every_s = int(dice.rng.choice([10, 15, 20, 30])) * (2 if (to_s - from_s) * len(book.presses) > 350_000 else 1)
    # Readings further apart than the shortest stop could not show it.
    every_s = min(every_s, int(press.stop_after_s or book.stop_after_s))
    start = _start_counter(dice, press, len(played.stroke_s))
    resets = _resets(dice, press, played, start, always)
    gaps = _gaps(dice, always, every_s)
    glitches = _glitches(dice, press, played=played, start=start, resets=resets, grid=(always, gaps, every_s))
    return LoggerHabits(every_s, always, start_counter=start, gaps=gaps, resets=resets, glitches=glitches)


def _start_counter(dice: Dice, press: PressSetup, strokes: int) -> int:
    """On a counter that rolls over, low enough below its end for that to happen."""
    if press.counter_modulus is None:
        return int(dice.rng.integers(0, 5_000_000))
    below = int(dice.rng.integers(1, max(min(strokes, press.counter_modulus), 2)))
    return press.counter_modulus - below


def _resets(dice: Dice, press: PressSetup, played: Played, start: int, always: list[int]) -> list[int]:
    """At most one reset, far from both ends of the counter, so that nobody can take it for a rollover."""
    if press.feeds or not dice.chance(0.4, "reset"):
        return []
    at_s = always[int(dice.rng.integers(len(always)))]
    counter = start + bisect_right(played.stroke_s, at_s)
    if press.counter_modulus is not None:
        counter %= press.counter_modulus
        if press.counter_modulus - counter < 2000:
            return []
    return [at_s] if counter > 2000 else []


def _gaps(dice: Dice, always: list[int], every_s: int) -> list[tuple[int, int]]:
    """A few stretches between two readings that must be there."""
    if not dice.chance(0.6, "gap"):
        return []
    long = [(a, b) for a, b in pairwise(always) if b - a > 4 * every_s]
    chosen = sorted(dice.rng.choice(len(long), size=min(3, len(long)), replace=False).tolist())
    return [long[number] for number in chosen]


def _glitches(
    dice: Dice,
    press: PressSetup,
    played: Played,
    start: int,
    resets: list[int],
    grid: tuple[list[int], list[tuple[int, int]], int],
) -> dict[int, int]:
    """A few readings too high by far, none beside a gap's end, a reset or a reading that must be there."""
    if not dice.chance(0.5, "glitch"):
        return {}
    always, gaps, every_s = grid
    taken = set(always) | {moment for gap in gaps for moment in range(gap[0], gap[1] + 1)}
    found = {}
    for _ in range(4):
        at_s = always[0] + every_s * int(dice.rng.integers(2, (always[-1] - always[0]) // every_s - 2))
        counter = start + bisect_right(played.stroke_s, at_s)
        room = 500_000 if press.counter_modulus is None else (-counter) % press.counter_modulus - 1
        near_reset = any(abs(at_s - reset) < 3600 for reset in resets)
        if at_s not in taken and room > 3000 and not near_reset:
            found[at_s] = int(dice.rng.integers(2500, room))
    return found
