"""Run rules on a control chart, by the published set they come from, with the false-alarm rate of the set.

Points are standardised: distance from the centre in standard deviations, so charts with varying limits
qualify.  A NaN (nothing inspected) belongs to no pattern and breaks one that must be unbroken.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import ArrayLike, NDArray
from scipy import sparse, special
from scipy.sparse import linalg

Flags = NDArray[np.bool_]
Floats = NDArray[np.float64]


class Pattern(Enum):
    """What a rule looks for in its window of points."""

    BEYOND = "points beyond the line, all on one side"
    WITHIN = "points within the line, on either side"
    AWAY = "points beyond the line, on either side"
    RUN = "points steadily rising or steadily falling"
    ALTERNATE = "points alternating up and down"


@dataclass(frozen=True)
class Rule:
    """`needed` of `window` neighbouring points follow the pattern; `line` is in standard deviations."""

    name: str
    pattern: Pattern
    needed: int
    window: int
    line: float = 0.0


# Western Electric, Statistical Quality Control Handbook (1956).
WESTERN_ELECTRIC = (
    Rule("Western Electric 1", Pattern.BEYOND, 1, 1, 3.0),
    Rule("Western Electric 2", Pattern.BEYOND, 2, 3, 2.0),
    Rule("Western Electric 3", Pattern.BEYOND, 4, 5, 1.0),
    Rule("Western Electric 4", Pattern.BEYOND, 8, 8),
)

# Nelson (1984), Journal of Quality Technology 16, 237-239; the same patterns are in ISO 7870-2:2013.
NELSON = (
    Rule("Nelson 1", Pattern.BEYOND, 1, 1, 3.0),
    Rule("Nelson 2", Pattern.BEYOND, 9, 9),
    Rule("Nelson 3", Pattern.RUN, 6, 6),
    Rule("Nelson 4", Pattern.ALTERNATE, 14, 14),
    Rule("Nelson 5", Pattern.BEYOND, 2, 3, 2.0),
    Rule("Nelson 6", Pattern.BEYOND, 4, 5, 1.0),
    Rule("Nelson 7", Pattern.WITHIN, 15, 15, 1.0),
    Rule("Nelson 8", Pattern.AWAY, 8, 8, 1.0),
)


def signals(standardised: ArrayLike, rules: tuple[Rule, ...]) -> dict[str, Flags]:
    """Points at which each rule fires, under the rule's name.

    `standardised` [standard deviations], one entry a point in time order.  A point fires when the pattern is
    complete with it and the point itself is part of the pattern.
    """
    z = np.asarray(standardised, float)
    return {rule.name: _fires(z, rule) for rule in rules}


def _fires(z: Floats, rule: Rule) -> Flags:
    if rule.pattern is Pattern.RUN:
        steps = np.diff(z)
        return _complete([steps > 0, steps < 0], rule.needed - 1, rule.window - 1, z.size)
    if rule.pattern is Pattern.ALTERNATE:
        turns = np.diff(z)[1:] * np.diff(z)[:-1] < 0
        return _complete([turns], rule.needed - 2, rule.window - 2, z.size)
    marks = {
        Pattern.BEYOND: [z > rule.line, z < -rule.line],
        Pattern.WITHIN: [np.abs(z) < rule.line],
        Pattern.AWAY: [np.abs(z) > rule.line],
    }[rule.pattern]
    return _complete(marks, rule.needed, rule.window, z.size)


def _complete(marks: list[Flags], needed: int, window: int, points: int) -> Flags:
    """Points at which one of the marks is set and has been set `needed` times in the last `window` marks."""
    fired = np.zeros(points, bool)
    for mark in (mark for mark in marks if mark.size):
        padded = np.concatenate([np.zeros(window - 1, bool), mark])
        enough = sliding_window_view(padded, window).sum(axis=1) >= needed
        fired[points - mark.size :] |= enough & mark
    return fired


def average_run_length(rules: tuple[Rule, ...], shift: float = 0.0) -> float:
    """Points until the set fires, on average, on normal points moved by `shift` standard deviations.

    Exact, by a Markov chain; only rules of points beyond a line on one side (all four of Western
    Electric).  At `shift` 0 it says how often the set cries wolf: one false alarm in so many points.
    Raises ValueError for rules of another pattern.
    Source: Champ and Woodall (1987), Technometrics 29, 393-399.
    """
    if any(rule.pattern is not Pattern.BEYOND for rule in rules):
        raise ValueError("the run length is worked out for rules of points beyond a line on one side only")
    edges = np.unique([side * rule.line for rule in rules for side in (-1.0, 1.0)])
    chance = np.diff(special.ndtr(np.r_[-np.inf, edges - shift, np.inf]))
    middles = np.r_[edges[0] - 1, (edges[1:] + edges[:-1]) / 2, edges[-1] + 1]
    rows, columns, zones, states = _walk(rules, middles)
    moves = sparse.csc_matrix((chance[zones], (rows, columns)), shape=(states, states))
    lengths = linalg.spsolve(sparse.identity(states, format="csc") - moves, np.ones(states))
    return float(np.atleast_1d(lengths)[0])


Memory = tuple[tuple[bool, ...], ...]


def _walk(rules: tuple[Rule, ...], zones: Floats) -> tuple[list[int], list[int], list[int], int]:
    """Every memory the chain can hold without having fired, and the moves between them by zone."""
    tests = [(rule, side) for rule in rules for side in (1.0, -1.0)]
    start: Memory = tuple((False,) * (rule.window - 1) for rule, _ in tests)
    number = {start: 0}
    waiting = deque([start])
    rows: list[int] = []
    columns: list[int] = []
    steps: list[int] = []
    while waiting:
        memory = waiting.popleft()
        for zone, z in enumerate(zones):
            following = _next_memory(memory, tests, float(z))
            if following is None:
                continue
            if following not in number:
                number[following] = len(number)
                waiting.append(following)
            rows.append(number[memory])
            columns.append(number[following])
            steps.append(zone)
    return rows, columns, steps, len(number)


def _next_memory(memory: Memory, tests: list[tuple[Rule, float]], z: float) -> Memory | None:
    """Memory after the next point, or None when a rule fires."""
    after: list[tuple[bool, ...]] = []
    for marks, (rule, side) in zip(memory, tests, strict=True):
        hit = side * z > rule.line
        if hit and sum(marks) + 1 >= rule.needed:
            return None
        kept = (*marks, hit)[1:] if rule.window > 1 else ()
        after.append(_forget(kept, rule))
    return tuple(after)


def _forget(marks: tuple[bool, ...], rule: Rule) -> tuple[bool, ...]:
    """Drop marks that can no longer take part in a pattern, so that fewer memories have to be told apart."""
    if rule.needed < rule.window or not marks or all(marks):
        return marks
    last_gap = max(place for place, mark in enumerate(marks) if not mark)
    return (False,) * (last_gap + 1) + marks[last_gap + 1 :]
