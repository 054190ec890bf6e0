"""The open end: what the last fold left undecided, told as it looks now."""

from __future__ import annotations

from monitor.reckoning.fold.day import Folded, fold
from monitor.reckoning.fold.open_end import OpenEnd, close
from monitor.reckoning.press.carry import Carry
from monitor.reckoning.press.press_day import Event
from shared.facts import FoldFacts
from tests.reckoning.given import HOUR, NEW, SECOND, coil, facts, plan, press_day, seconds, set_die, steady, window

EARLY = plan(window("early", 6 * HOUR, 14 * HOUR))
END = 14 * HOUR


def after(rows: list[tuple[int, int]], *trailing: Event) -> tuple[Folded, OpenEnd]:
    """Fold readings and close what they leave open, with changes noted after the last of them."""
    first = fold(press_day(rows, (set_die(0), coil(0, "A")), on=EARLY), NEW)
    return first, close(press_day([], trailing, on=EARLY), first.carry)


def told(closed: OpenEnd) -> dict[str, float]:
    """Time in the open end [s]."""
    return seconds(Folded(closed.facts, closed.carry, True))


def test_standing_too_short_to_be_a_stop_counts_as_running() -> None:
    first, closed = after([*steady(7 * HOUR, 7 * HOUR + 100), (7 * HOUR + 140, 100)])
    assert seconds(first)["running"] == 100
    assert told(closed) == {"planned": 40, "running": 40, "stopped": 0, "extra": 0, "unresolved": 0}


def test_standing_that_is_a_stop_was_told_by_the_fold_and_leaves_nothing() -> None:
    first, closed = after([*steady(7 * HOUR, 7 * HOUR + 100), (7 * HOUR + 300, 100)])
    assert seconds(first)["stopped"] == 200
    assert told(closed)["planned"] == 0


def test_shift_whose_end_lies_less_than_a_stop_ahead_is_complete() -> None:
    first, closed = after(steady(END - 130, END - 30))
    assert seconds(first)["planned"] == 100
    assert told(closed) == {"planned": 30, "running": 30, "stopped": 0, "extra": 0, "unresolved": 0}


def test_shift_whose_end_lies_further_ahead_is_told_up_to_the_last_reading() -> None:
    assert told(after(steady(END - 190, END - 90))[1])["planned"] == 0


def test_stop_at_the_end_of_a_shift_lasts_until_it_ends() -> None:
    first, closed = after([*steady(END - 300, END - 200), (END - 30, 100)])
    assert seconds(first)["stopped"] == 170
    assert told(closed)["stopped"] == 30
    rows = facts(Folded(closed.facts, closed.carry, True), "stops")
    assert [(row["from_us"], row["to_us"]) for row in rows] == [((END - 30) * SECOND, END * SECOND)]


def test_changes_after_the_last_reading_stand_in_the_state_and_in_the_notes() -> None:
    at = 8 * HOUR
    _, closed = after(
        steady(7 * HOUR, 7 * HOUR + 100),
        coil(at, "A", "remove", weight_kg=90.0),
        set_die(at + 60, event="pull"),
        set_die(at + 600, "D2"),
        coil(at + 900, "B"),
    )
    assert closed.carry.die is not None
    assert closed.carry.die.die_id == "D2"
    assert closed.carry.coils[closed.carry.strip.mounting_id] == "B"
    noted = facts(Folded(closed.facts, closed.carry, True), "mounts")
    notes = [(row["coil_id"], row["removed_us"], row["end_weighed_kg"]) for row in noted]
    assert notes == [("A", at * SECOND, 90.0), ("B", None, None)]


def test_a_press_that_was_never_read_leaves_nothing() -> None:
    assert close(press_day([], (set_die(0),)), Carry()) == OpenEnd(FoldFacts(), Carry())
