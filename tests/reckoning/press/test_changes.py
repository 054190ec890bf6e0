"""What die changes and coil changes do to a press: die of 4 stations at pitch 30, so S - 1 is 90 mm."""

from __future__ import annotations

from dataclasses import replace

import pytest

from monitor.reckoning.press.carry import Carry, DieInPress, Habits
from monitor.reckoning.press.changes import MountNote, apply
from monitor.reckoning.press.press_day import Event, Press
from monitor.reckoning.press.strip import draw_in, presumed
from tests.reckoning.given import SECOND, coil, die, set_die

PRESS = Press("P1", 60 * SECOND, lead_in_mm=300.0)
DIES = {"D1": die("D1", 4)}


def after(*events: Event, start: Carry | None = None, strokes: int = 0) -> tuple[Carry, list[MountNote]]:
    """Apply changes with some strokes after each; returns the state and the notes of mountings."""
    carry, notes = start or Carry(habits=Habits(first_off=False)), []
    for event in events:
        changed = apply(event, carry, PRESS, DIES)
        carry = changed.carry
        if strokes and carry.die and carry.strip.feeds:
            carry = replace(carry, strip=draw_in(carry.strip, strokes)[0])
        notes += changed.notes
    return carry, notes


def test_set_puts_a_die_in_with_its_order_and_outs() -> None:
    carry, _ = after(set_die(5, part_no="N1", order_id="O7", outs_running=(1, 2)))
    assert carry.die == DieInPress("D1", 5 * SECOND, part_no="N1", order_id="O7", outs_running=(1, 2), setup=False)


def test_die_is_being_set_until_its_first_off_where_first_offs_are_entered() -> None:
    entered = Carry(habits=Habits(first_off=True))
    carry, _ = after(set_die(5), start=entered)
    assert carry.die is not None
    assert carry.die.setup
    carry, _ = after(set_die(5), set_die(9, event="first_off"), start=entered)
    assert carry.die is not None
    assert not carry.die.setup


def test_change_takes_the_new_part_and_outs_and_keeps_the_order_it_does_not_name() -> None:
    carry, _ = after(
        set_die(5, part_no="N1", order_id="O7"), set_die(9, event="change", part_no="N2", outs_running=(2,))
    )
    assert carry.die == DieInPress("D1", 5 * SECOND, part_no="N2", order_id="O7", outs_running=(2,), setup=False)


def test_pull_takes_the_die_out_and_cuts_the_strip_in_it() -> None:
    carry, _ = after(set_die(0), coil(1, "A"), set_die(9, event="pull"), strokes=10)
    assert carry.die is None
    assert (carry.strip.joints, carry.strip.feeds) == ((), True)


@pytest.mark.parametrize("event", ["change", "first_off", "last_off"])
def test_die_events_without_a_die_change_nothing(event: str) -> None:
    assert after(set_die(5, event=event))[0].die is None


def test_mount_notes_when_it_began_and_what_was_weighed() -> None:
    carry, notes = after(set_die(0), coil(7, "A", weight_kg=512.5))
    assert notes == [MountNote(f"A@P1@{7 * SECOND}", "A", mounted_us=7 * SECOND, start_weighed_kg=512.5)]
    assert carry.coils == {f"A@P1@{7 * SECOND}": "A"}


def test_mount_of_the_next_coil_takes_the_one_before_off() -> None:
    _, notes = after(set_die(0), coil(7, "A"), coil(90, "B"), strokes=10)
    assert (notes[-1].coil_id, notes[-1].removed_us) == ("A", 90 * SECOND)


def test_splice_uses_the_lead_in_of_the_press_300_mm_at_pitch_30_is_10_progressions() -> None:
    carry, _ = after(set_die(0), coil(7, "A"), coil(90, "B", "splice"), strokes=20)
    # 20 progressions of A were drawn in, 10 more lie ahead: B begins at progression 31.
    assert [joint.first for joint in carry.strip.joints] == [1, 31]
    assert set(carry.coils.values()) == {"A", "B"}


def test_joint_is_the_same_coil_and_loses_nothing() -> None:
    before, _ = after(set_die(0), coil(7, "A"), strokes=20)
    joined, notes = after(coil(90, "A", "joint"), start=before)
    assert (joined.strip, notes) == (before.strip, [])


def test_remove_notes_the_weighing_and_leaves_the_strip_in_the_die() -> None:
    carry, notes = after(set_die(0), coil(7, "A"), coil(90, "A", "remove", weight_kg=80.0), strokes=10)
    assert notes[-1] == MountNote(f"A@P1@{7 * SECOND}", "A", removed_us=90 * SECOND, end_weighed_kg=80.0)
    assert (carry.strip.parked, carry.strip.feeds) == (True, False)


def test_late_remove_of_the_run_out_coil_leaves_the_new_one_on() -> None:
    carry, notes = after(
        set_die(0), coil(7, "A"), coil(90, "B", "splice"), coil(95, "A", "remove", weight_kg=2.0), strokes=5
    )
    assert notes[-1] == MountNote(f"A@P1@{7 * SECOND}", "A", removed_us=95 * SECOND, end_weighed_kg=2.0)
    assert carry.strip.feeds
    assert carry.strip.mounting_id == f"B@P1@{90 * SECOND}"


def test_remove_of_a_coil_that_was_never_on_notes_nothing() -> None:
    assert after(set_die(0), coil(9, "A", "remove"))[1] == []


def test_lost_m_beyond_the_die_is_strip_cut_off_500_mm_less_90_is_410() -> None:
    _, notes = after(set_die(0), coil(7, "A", lost_m=0.5))
    assert notes[0].lost_mm == pytest.approx(410)
    assert after(set_die(0), coil(7, "A", lost_m=0.06))[1][0].lost_mm == 0


def test_lost_m_below_the_rule_pushes_the_old_strip_through_60_mm_is_2_progressions() -> None:
    carry, _ = after(set_die(0), coil(7, "A"), coil(90, "B", lost_m=0.06), strokes=10)
    assert carry.strip.voids == ((11, 13),)
    assert [joint.first for joint in carry.strip.joints] == [1, 11]


def test_cut_notes_only_what_was_cut_off_beyond_the_die() -> None:
    carry, notes = after(set_die(0), coil(7, "A"), coil(90, "A", "cut"), strokes=10)
    assert (len(notes), carry.strip.feeds) == (1, True)
    _, notes = after(set_die(0), coil(7, "A"), coil(90, "A", "cut", lost_m=1.09), strokes=10)
    assert notes[-1].lost_mm == pytest.approx(1000)


def test_cut_of_a_coil_that_is_not_in_the_die_changes_nothing() -> None:
    before, _ = after(set_die(0), coil(7, "A"), coil(80, "B"), strokes=10)
    # A left the press when B was mounted: a cut noted of it late is no cut of B.
    cut, notes = after(coil(90, "A", "cut", lost_m=1.09), start=before)
    assert (cut.strip, notes) == (before.strip, [])


def test_cut_of_the_coil_that_still_lies_in_the_die_after_a_splice_is_booked_to_it() -> None:
    # Lead-in 300 mm: after 5 strokes the die is full of A, B lies before it; 1.09 m cut, 0.09 of them in the die.
    spliced, _ = after(set_die(0), coil(7, "A"), coil(80, "B", "splice"), strokes=5)
    cut, notes = after(coil(90, "A", "cut", lost_m=1.09), start=spliced)
    assert cut.strip.joints == ()
    assert [(note.coil_id, note.lost_mm) for note in notes] == [("A", pytest.approx(1000))]


def test_cut_of_strip_that_nobody_noted_is_a_cut() -> None:
    ran = Carry(strip=presumed())
    assert after(set_die(0), coil(9, "A", "cut"), start=ran)[0].strip.joints == ()


def test_coil_put_on_before_the_die_is_threaded_when_the_die_is_set() -> None:
    carry, _ = after(coil(1, "A"), set_die(5))
    assert carry.strip.feeds
    assert list(carry.coils.values()) == ["A"]


def test_coils_that_have_left_are_forgotten() -> None:
    carry, _ = after(set_die(0), coil(1, "A"), coil(2, "B"), coil(3, "C"), strokes=10)
    assert set(carry.coils.values()) <= {"B", "C"}
