"""A die event acts on the die that it names: two dies of 4 stations, times in seconds."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import pytest

from monitor.reckoning.press.carry import Carry, Habits
from monitor.reckoning.press.die_events import NOTED_LATE_US, apply, dies_in_press, of_other_dies
from monitor.reckoning.press.press_day import DieChange, in_order
from monitor.reckoning.press.strip import draw_in, mount
from tests.reckoning.given import SECOND, set_die

LATE_S = NOTED_LATE_US // SECOND


def after(*events: DieChange) -> Carry:
    """The state after some die events, on a press where first-offs are entered."""
    carry = Carry(habits=Habits(first_off=True))
    for event in in_order(list(events)):
        assert isinstance(event, DieChange)
        carry = apply(event, carry)
    return carry


def die_and_setup(*events: DieChange) -> tuple[str, bool] | None:
    """The die in the press after some events, and whether it is being set."""
    die = after(*events).die
    return (die.die_id, die.setup) if die else None


def noted(event: str, at_s: int, die_id: str) -> DieChange:
    """A die event of a die at a second."""
    return set_die(at_s, die_id, event)


A, B = noted("set", 0, "A"), noted("set", 1000, "B")


def test_pull_of_the_old_die_a_minute_after_the_set_of_the_new_one_leaves_the_new_one_in() -> None:
    assert die_and_setup(A, B, noted("pull", 1060, "A")) == ("B", True)


def test_pull_of_the_old_die_is_late_however_late_and_pulls_nothing() -> None:
    assert die_and_setup(A, B, noted("pull", 90_000, "A")) == ("B", True)
    assert of_other_dies([A, B, noted("pull", 90_000, "A")]) == []


def test_late_pull_leaves_the_strip_in_the_new_die_as_it_is() -> None:
    carry = after(A, B)
    carry = replace(carry, strip=draw_in(mount(carry.strip, "C@P@1", None, 4), 30)[0])
    assert apply(noted("pull", 1060, "A"), carry).strip == carry.strip


def test_pull_of_the_die_in_the_press_takes_it_out() -> None:
    assert die_and_setup(A, B, noted("pull", 2000, "B")) is None


def test_first_off_of_another_die_ends_no_setting() -> None:
    assert die_and_setup(A, B, noted("first_off", 1060, "A")) == ("B", True)
    assert die_and_setup(A, B, noted("first_off", 1060, "B")) == ("B", False)


def test_change_and_last_off_of_another_die_change_nothing() -> None:
    named = DieChange(1060 * SECOND, "change", "A", part_no="N9", outs_running=(1,))
    assert after(A, B, named) == after(A, B)
    assert after(A, B, noted("last_off", 1060, "A")) == after(A, B)


def test_pull_noted_a_minute_after_the_same_die_was_set_again_is_the_pull_before_it() -> None:
    again = noted("set", 1000, "A")
    assert die_and_setup(A, again, noted("pull", 1060, "A")) == ("A", True)
    # One more pull, or one that comes long after, is meant for the die as it stands now.
    assert die_and_setup(A, again, noted("pull", 1060, "A"), noted("pull", 1120, "A")) is None
    assert die_and_setup(A, again, noted("pull", 1001 + LATE_S, "A")) is None
    assert die_and_setup(A, noted("pull", 900, "A"), again, noted("pull", 1060, "A")) is None


@pytest.mark.parametrize(("gap_s", "setup"), [(60, False), (LATE_S, False), (LATE_S + 1, True)])
def test_first_off_noted_before_the_set_of_its_die_ends_that_setting_if_the_set_came_soon(
    gap_s: int, setup: bool
) -> None:
    events = [A, noted("pull", 500, "A"), noted("first_off", 1000 - gap_s, "B"), B]
    events = [event for event in events if event.time_us >= 0]
    assert die_and_setup(*events) == ("B", setup)


def test_first_off_noted_early_is_spent_by_the_next_set_whatever_die_it_is() -> None:
    early = noted("first_off", 900, "B")
    assert die_and_setup(A, early, noted("set", 950, "C"), B) == ("B", True)


def test_first_off_of_the_wrong_die_days_before_its_set_does_not_end_that_setting() -> None:
    assert die_and_setup(A, noted("first_off", 60, "B"), noted("set", 200_000, "B")) == ("B", True)


def test_events_of_a_die_that_was_not_in_the_press_are_named_in_order() -> None:
    events = [
        A,
        noted("first_off", 60, "B"),  # A is being set: another die
        noted("change", 70, "C"),  # another die
        B,
        noted("pull", 1060, "A"),  # only late
        noted("last_off", 1070, "A"),  # measured after it was out: only late
        noted("pull", 1080, "A"),  # A has been pulled already
        noted("pull", 2000, "B"),
        noted("last_off", 2100, "B"),  # only late
        noted("first_off", 3000, "C"),  # its set was never noted
    ]
    stray = [(e.time_us // SECOND, e.event, e.die_id) for e in of_other_dies(reversed(events))]
    assert stray == [(60, "first_off", "B"), (70, "change", "C"), (1080, "pull", "A"), (3000, "first_off", "C")]


def test_first_off_that_its_set_follows_at_once_and_events_before_the_record_began_are_sound() -> None:
    assert of_other_dies([A, noted("first_off", 900, "B"), B]) == []
    assert [e.event for e in of_other_dies([A, noted("first_off", 300, "B"), B])] == ["first_off"]
    assert of_other_dies([noted("first_off", 5, "A"), noted("pull", 9, "A"), B]) == []


def test_dies_in_a_press_by_moment() -> None:
    events = [A, noted("first_off", 60, "A"), B, noted("pull", 1060, "A"), noted("pull", 2000, "B")]
    assert dies_in_press(events) == [(0, "A"), (1000 * SECOND, "B"), (2000 * SECOND, "")]


def test_events_of_one_moment_are_ordered_by_what_they_are_whatever_the_order_of_rows() -> None:
    events = [noted("pull", 1000, "A"), B, noted("first_off", 1000, "B"), noted("last_off", 1000, "A"), A]
    states = {after(*order).die for order in permutations(events)}
    # The old die's last-off and pull, the new die's set, then its first-off.
    assert [(die.die_id, die.setup) for die in states if die] == [("B", False)]
