"""Die and coil changes as people note them: late, rounded, in the wrong order, the old die's pull after the new one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from sample_runs.simulate.logger import LoggedReadings
from sample_runs.simulate.script import CoilChangeNote, DieChangeNote, Script
from tests.invented.jobs import Dice

Event = CoilChangeNote | DieChangeNote


@dataclass
class Noted:
    """The events of a press as noted, and what that leaves open.

    `named` is set where an event names a die that is not in the press: that may be reported or not.
    `first_offs` are first-offs of a die that was never in the press, which must be.
    """

    events: list[Event] = field(default_factory=list)
    mounted: dict[int, int] = field(default_factory=dict)
    named: bool = False
    first_offs: int = 0


def noted(
    dice: Dice, script: Script, readings: LoggedReadings, others: list[str], uses: Sequence[tuple[int, str]]
) -> Noted:
    """The events of a press as somebody wrote them down.

    `others` are dies that are never in it, `uses` when each coil comes onto any press.
    """
    found = Noted()
    events = script.events
    for number, event in enumerate(events):
        window = _still(readings, event.at_s)
        before = found.events[-1].at_s if number else window[0] - 1
        after = events[number + 1].at_s if number + 1 < len(events) else window[1] + 1
        low, high = max(window[0], before + 1), min(window[1], after - 1)
        at_s = event.at_s
        if low < high and dice.chance(0.4):
            dice.happened.add("changes noted late")
            at_s = int(dice.rng.integers(low, high + 1))
            minute = -(-at_s // 60) * 60
            at_s = minute if minute <= high and dice.chance(0.6) else at_s
            # Early or late, but never before the last change: what comes first is another thing.
        if isinstance(event, CoilChangeNote) and event.event in ("mount", "splice"):
            found.mounted[event.at_s] = at_s
        found.events.append(replace(event, at_s=at_s))
    _pull_late(dice, script, found)
    _remove_late(dice, script, found, uses)
    found.events += list(_foreign_first_offs(dice, script, others, found))
    _keep_keys_apart(found)
    order = dice.rng.permutation(len(found.events))
    found.events = [found.events[number] for number in order]
    return found


def _still(readings: LoggedReadings, at_s: int) -> tuple[int, int]:
    """The first and last reading around a moment, all with the same count of strokes."""
    times, strokes = readings.time_s[~readings.glitch], readings.true_strokes[~readings.glitch]
    count = strokes[np.searchsorted(times, at_s, side="right") - 1]
    same = times[strokes == count]
    return int(same[0]), int(same[-1])


def _pull_late(dice: Dice, script: Script, found: Noted) -> None:
    """Note the old die's pull when another has been set, or in the same second."""
    for number, event in enumerate(script.events[:-1]):
        following = script.events[number + 1]
        is_change = isinstance(event, DieChangeNote) and isinstance(following, DieChangeNote)
        if not is_change or (event.event, following.event) != ("pull", "set") or event.die_id == following.die_id:
            continue
        if _strokes_between(script, event.at_s, following.at_s) or not dice.chance(0.5):
            continue
        until = next(
            (e.at_s for e in script.events[number + 2 :] if isinstance(e, DieChangeNote) and e.die_id == event.die_id),
            following.at_s + 1800,
        )
        dice.happened.add("the old die pulled late")
        found.named = True
        late_s = int(dice.rng.choice([0, 1, 55, 60, 600, 1800]))
        set_s = found.events[number + 1].at_s
        found.events[number] = replace(event, at_s=max(min(set_s + late_s, until - 1), set_s))


def _remove_late(dice: Dice, script: Script, found: Noted, uses: Sequence[tuple[int, str]]) -> None:
    """Note the old coil's removal after the next coil has come on."""
    on, removed = "", 0
    for number, event in enumerate(script.events):
        if not isinstance(event, CoilChangeNote):
            continue
        if event.event == "mount":
            mount_s = found.events[number].at_s
            until = min((at for at, coil in uses if coil == on and at > event.at_s), default=mount_s + 1800)
            late_s = max(min(mount_s + int(dice.rng.choice([0, 1, 60, 900])), until - 1), mount_s)
            if on == event.coil_id:
                pass  # It is the same coil again: its removal after that would be another one.
            elif on and not removed and dice.chance(0.5):
                dice.happened.add("a coil removed late")
                found.events.append(CoilChangeNote(late_s, "remove", on))
            elif removed and not _strokes_between(script, script.events[removed].at_s, event.at_s) and dice.chance(0.4):
                dice.happened.add("a coil removed late")
                found.events[removed] = replace(found.events[removed], at_s=late_s)
            on, removed = event.coil_id, 0
        elif event.event == "splice":
            on, removed = event.coil_id, 0
        elif event.event == "remove" and event.coil_id == on:
            removed = number


def _strokes_between(script: Script, begin: int, end: int) -> bool:
    return any(run.from_s < end and run.to_s > begin for run in script.runs)


def _foreign_first_offs(dice: Dice, script: Script, others: list[str], found: Noted) -> Iterator[DieChangeNote]:
    """A first-off of a die that is in no press, while another runs."""
    long = [run for run in script.runs if run.to_s - run.from_s > 1200]
    if others and long and dice.chance(0.2):
        dice.happened.add("a first-off of another die")
        found.named = True
        found.first_offs += 1
        run = long[int(dice.rng.integers(len(long)))]
        yield DieChangeNote((run.from_s + run.to_s) // 2, "first_off", dice.one_of(tuple(others)))


def _keep_keys_apart(found: Noted) -> None:
    """Let no two rows have the same press, time and event: the later one would correct the earlier."""
    taken: set[tuple[type, int, str]] = set()
    for number, event in enumerate(found.events):
        at_s = event.at_s
        while (type(event), at_s, event.event) in taken:
            at_s += 1
        taken.add((type(event), at_s, event.event))
        found.events[number] = replace(event, at_s=at_s)
