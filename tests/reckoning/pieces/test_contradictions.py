"""Which notes cannot all be true, and which only look like it."""

from __future__ import annotations

import pytest

from monitor.reckoning.pieces.contradictions import Decision, PressStay, Sending, decided_beyond, overlaps, sent_again

MIN = 60 * 1_000_000


def test_one_coil_on_two_presses_overlaps_from_the_second_note_on() -> None:
    (found,) = overlaps([PressStay("C", "A", 0, 60 * MIN), PressStay("C", "B", 20 * MIN, 90 * MIN)])
    assert (found.first.press_id, found.second.press_id) == ("A", "B")
    assert (found.from_us, found.to_us) == (20 * MIN, 60 * MIN)


@pytest.mark.parametrize("late_min", [-1, 0, 5])
def test_what_was_noted_up_to_five_minutes_late_is_in_one_place(late_min: int) -> None:
    assert overlaps([PressStay("C", "A", 0, 20 * MIN + late_min * MIN), PressStay("C", "B", 20 * MIN, None)]) == []


def test_a_stay_without_an_end_overlaps_what_comes_later() -> None:
    assert len(overlaps([PressStay("C", "A", 0), PressStay("C", "B", 20 * MIN)])) == 1
    assert overlaps([PressStay("C", "A", 0), PressStay("D", "B", 20 * MIN)]) == []
    assert overlaps([PressStay("C", "A", 0), PressStay("C", "A", 20 * MIN)]) == []


def test_a_stay_of_three_minutes_is_none_to_speak_of() -> None:
    assert overlaps([PressStay("C", "A", 0), PressStay("C", "B", 20 * MIN, 23 * MIN)]) == []


def test_decisions_that_fit_are_no_contradiction() -> None:
    # 10 burrs and 5 cracks: 7 + 3 burrs, 5 of any cause.
    made = [Decision("BUR", "rework", 7, 1), Decision("BUR", "scrap", 3, 1), Decision("", "use_as_is", 5, 2)]
    assert decided_beyond(made, {"BUR": 10, "CRK": 5}) is None


def test_more_decided_than_rejected_says_which_and_by_how_many() -> None:
    # 10 rejected; 6 + 6 decided at once: the second sheet speaks of 4 pieces, so 2 are too many.
    first, second = Decision("BUR", "found_good", 6, 1, "a"), Decision("BUR", "scrap", 6, 1, "b")
    found = decided_beyond([first, second], {"BUR": 10})
    assert found is not None
    assert (found.decision.note, found.pieces) == ("b", 2)


def test_a_reworked_piece_may_be_scrapped_later_but_not_at_the_same_time() -> None:
    rework = Decision("BUR", "rework", 10, 1)
    assert decided_beyond([rework, Decision("BUR", "scrap", 3, 2)], {"BUR": 10}) is None
    assert decided_beyond([rework, Decision("BUR", "scrap", 3, 1)], {"BUR": 10}) is not None
    # Of 10 reworked pieces 11 cannot be scrapped.
    found = decided_beyond([rework, Decision("BUR", "scrap", 11, 2)], {"BUR": 10})
    assert found is not None
    assert found.pieces == 1


def test_a_decision_of_another_cause_has_no_pieces() -> None:
    found = decided_beyond([Decision("CRK", "found_good", 4, 1)], {"BUR": 10})
    assert found is not None
    assert found.pieces == 4


def test_setting_pieces_are_released_only_without_a_cause() -> None:
    # 10 rejected and 40 setting pieces: 50 of any cause fit, 51 do not, and none of them are burrs.
    assert decided_beyond([Decision("", "found_good", 50, 1)], {"BUR": 10}, settable=40) is None
    found = decided_beyond([Decision("", "found_good", 51, 1)], {"BUR": 10}, settable=40)
    assert found is not None
    assert found.pieces == 1
    assert decided_beyond([Decision("BUR", "found_good", 11, 1)], {"BUR": 10}, settable=40) is not None


def test_rejects_without_a_cause_may_be_given_one_by_the_decision() -> None:
    assert decided_beyond([Decision("BUR", "scrap", 10, 1)], {"": 10}) is None


def test_a_box_sent_twice_is_named_with_both_sendings() -> None:
    ((first, second),) = sent_again([Sending("B1", 2, "s2"), Sending("B1", 1, "s1"), Sending("B2", 1)], [])
    assert (first.note, second.note) == ("s1", "s2")


def test_a_box_filled_anew_between_two_sendings_was_sent_twice_rightly() -> None:
    sendings = [Sending("B1", 10), Sending("B1", 20)]
    assert sent_again(sendings, [("B1", 15)]) == []
    assert len(sent_again(sendings, [("B1", 5), ("B1", 25), ("B2", 15)])) == 1
