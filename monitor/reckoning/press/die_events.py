"""What a die event does to the die in a press: it acts on the die that it names, or on none."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from monitor.reckoning.press import strip as strips
from monitor.reckoning.press.carry import Carry, DieInPress, DieLeft
from monitor.reckoning.press.press_day import DieChange, in_order
from shared.durations import MINUTE_US

#: How much later than it happened a die change may have been noted, where two notes about one die are in the wrong
#: order [us]; common practice, no source.
NOTED_LATE_US = 10 * MINUTE_US


def apply(event: DieChange, carry: Carry) -> Carry:
    """Return the state of a press after a die event; an event of a die that is not in the press changes no strip.

    The pull of the die that a set has replaced is noted late: the new die stays.  So is a pull within 10 minutes of a
    second set of the same die.  A first-off noted at most 10 minutes before the set of its die ends that setting.
    """
    return _ACTS[event.event](event, carry)


def of_other_dies(events: Iterable[DieChange]) -> list[DieChange]:
    """Return the die events of one press that name a die which was not in it, in order of time.

    Left out is what is only noted late: the pull of the die just replaced, the last-off of the die that left last, a
    first-off that the set of its die follows within 10 minutes; and what comes before the first set or pull of the
    press, when nobody knows which die was in it.
    """
    carry, found = Carry(), list[DieChange]()
    for event in (e for e in in_order(list(events)) if isinstance(e, DieChange)):
        if _is_of_other(event, carry):
            found.append(event)
        if event.event == "set" and _was_proven(event, carry):
            found = [e for e in found if (e.die_id, e.time_us) != carry.first_off_early or e.event != "first_off"]
        carry = apply(event, carry)
    return found


def dies_in_press(events: Iterable[DieChange]) -> list[tuple[int, str]]:
    """Return since when [us] which die is in a press, "" = none, from its die events; a moment for every change."""
    carry, found = Carry(), list[tuple[int, str]]()
    for event in (e for e in in_order(list(events)) if isinstance(e, DieChange)):
        carry = apply(event, carry)
        die_id = carry.die.die_id if carry.die else ""
        if event.event == "set" or not found or found[-1][1] != die_id:
            found.append((event.time_us, die_id))
    return found


def _is_of_other(event: DieChange, carry: Carry) -> bool:
    is_known = carry.die is not None or carry.left is not None
    if event.event == "set" or not is_known or _is_in(event, carry):
        return False
    left = carry.left
    just_left = left is not None and left.die_id == event.die_id
    if event.event == "pull":
        return not (just_left and left is not None and not left.is_pulled)
    return not (just_left and event.event == "last_off")


def _is_in(event: DieChange, carry: Carry) -> bool:
    return carry.die is not None and carry.die.die_id == event.die_id


def _was_proven(event: DieChange, carry: Carry) -> bool:
    """Tell whether the first-off of a die was noted shortly before its set."""
    if carry.first_off_early is None:
        return False
    die_id, us = carry.first_off_early
    return die_id == event.die_id and event.time_us - us <= NOTED_LATE_US


def _set(event: DieChange, carry: Carry) -> Carry:
    setup = carry.habits.first_off and not _was_proven(event, carry)
    die = DieInPress(
        event.die_id,
        event.time_us,
        part_no=event.part_no,
        order_id=event.order_id,
        outs_running=event.outs_running,
        setup=setup,
    )
    left = DieLeft(carry.die.die_id, False) if carry.die else carry.left
    return replace(carry, die=die, left=left, first_off_early=None, strip=strips.clear(carry.strip))


def _pull(event: DieChange, carry: Carry) -> Carry:
    if _is_of_replaced(event, carry):
        return replace(carry, left=DieLeft(event.die_id, True))
    if carry.die is not None and not _is_in(event, carry):
        return carry
    return replace(carry, die=None, left=DieLeft(event.die_id, True), strip=strips.clear(carry.strip))


def _is_of_replaced(event: DieChange, carry: Carry) -> bool:
    """Tell whether a pull is that of the die which a set has replaced, noted late."""
    if carry.die is None or carry.left is None or carry.left.is_pulled or carry.left.die_id != event.die_id:
        return False
    return not _is_in(event, carry) or event.time_us - carry.die.set_us <= NOTED_LATE_US


def _first_off(event: DieChange, carry: Carry) -> Carry:
    if carry.die is None or not _is_in(event, carry):
        return replace(carry, first_off_early=(event.die_id, event.time_us))
    return replace(carry, die=replace(carry.die, setup=False))


def _change(event: DieChange, carry: Carry) -> Carry:
    if carry.die is None or not _is_in(event, carry):
        return carry
    die = replace(
        carry.die,
        part_no=event.part_no or carry.die.part_no,
        order_id=event.order_id or carry.die.order_id,
        outs_running=event.outs_running,
    )
    return replace(carry, die=die)


def _as_it_was(event: DieChange, carry: Carry) -> Carry:
    return carry


_ACTS: dict[str, Callable[[DieChange, Carry], Carry]] = {
    "set": _set,
    "first_off": _first_off,
    "change": _change,
    "last_off": _as_it_was,
    "pull": _pull,
}
