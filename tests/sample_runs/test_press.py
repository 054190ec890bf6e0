"""The stroke-by-stroke press against cases worked by hand on a die of four stations."""

from __future__ import annotations

from collections import Counter

import pytest

from sample_runs.simulate.book import DieDesign, OutDesign, PressSetup
from sample_runs.simulate.press import NO_STRIP, Played, play
from sample_runs.simulate.script import CoilChangeNote, DieChangeNote, Run, Script

FOUR = ("pierce", "notch", "bend", "cutoff")
ONE_OUT = DieDesign("D-1", 10.0, strip_width_mm=40.0, rated_spm=60.0, operations=FOUR, outs=(OutDesign("A", 4),))
TWO_OUT = DieDesign(
    "D-2", 10.0, strip_width_mm=40.0, rated_spm=60.0, operations=FOUR, outs=(OutDesign("A", 4), OutDesign("B", 2))
)


def play_here(
    *happenings: Run | CoilChangeNote | DieChangeNote, lead_in_mm: float = 0.0, die: DieDesign = ONE_OUT
) -> Played:
    runs = [h for h in happenings if isinstance(h, Run)]
    events = [h for h in happenings if not isinstance(h, Run)]
    first = DieChangeNote(0, "set", die.die_id)
    ready = DieChangeNote(0, "first_off", die.die_id)
    script = Script("P1", runs, [first, ready, *events])
    return play(PressSetup("P1", 60.0, lead_in_mm=lead_in_mm), {die.die_id: die}, script, 0)


def pieces_by_coil(played: Played) -> Counter[str]:
    return Counter(
        played.mountings[played.progression_mounting[progression]].coil_id for progression in played.piece_progression
    )


def test_a_strip_fed_ten_times_through_four_stations_gives_seven_pieces_and_leaves_three() -> None:
    played = play_here(CoilChangeNote(0, "mount", "C-1"), Run(0, 10, 60), CoilChangeNote(10, "remove", "C-1"))
    assert list(played.stroke_s) == list(range(1, 11))
    assert list(played.piece_stroke) == [3, 4, 5, 6, 7, 8, 9]
    assert list(played.piece_progression) == [0, 1, 2, 3, 4, 5, 6]
    (mounting,) = played.mountings
    assert (mounting.fed, mounting.finished, mounting.removed_s) == (10, 7, 10)


def test_a_strip_shorter_than_the_die_gives_nothing() -> None:
    played = play_here(CoilChangeNote(0, "mount", "C-1"), Run(0, 3, 60))
    assert len(played.piece_stroke) == 0
    assert played.mountings[0].fed - played.mountings[0].finished == 3


def test_a_mount_empties_the_die_and_ends_the_coil_before() -> None:
    played = play_here(
        CoilChangeNote(0, "mount", "C-1"), Run(0, 10, 60), CoilChangeNote(10, "mount", "C-2"), Run(10, 20, 60)
    )
    assert pieces_by_coil(played) == {"C-1": 7, "C-2": 7}
    assert [m.fed - m.finished for m in played.mountings] == [3, 3]
    assert played.mountings[0].removed_s == 10


def test_a_splice_without_lead_in_loses_nothing_and_the_next_three_pieces_are_the_old_coils() -> None:
    played = play_here(
        CoilChangeNote(0, "mount", "C-1"), Run(0, 10, 60), CoilChangeNote(10, "splice", "C-2"), Run(10, 20, 60)
    )
    assert pieces_by_coil(played) == {"C-1": 10, "C-2": 7}
    assert [m.fed for m in played.mountings] == [10, 10]
    assert [m.finished for m in played.mountings] == [10, 7]


def test_a_splice_is_noted_25_mm_before_station_1_so_three_more_strokes_feed_the_old_coil() -> None:
    played = play_here(
        CoilChangeNote(0, "mount", "C-1"),
        Run(0, 10, 60),
        CoilChangeNote(10, "splice", "C-2"),
        Run(10, 20, 60),
        lead_in_mm=25.0,
    )
    assert [m.fed for m in played.mountings] == [13, 7]
    assert pieces_by_coil(played) == {"C-1": 13, "C-2": 4}
    # Three strokes of lead-in, then four until the first new progression leaves station 4: 11-16 are old.
    new = [stroke for stroke, p in zip(played.piece_stroke, played.piece_progression, strict=True) if p >= 13]
    assert new[0] == 16


def test_forty_pieces_taken_240_strokes_after_a_splice_are_15_old_and_25_new() -> None:
    """The example of the trade notes: 16 stations, pitch 30, 6 m of strip ahead."""
    die = DieDesign(
        "D-16",
        30.0,
        strip_width_mm=40.0,
        rated_spm=60.0,
        operations=("idle",) * 15 + ("cutoff",),
        outs=(OutDesign("A", 16),),
    )
    played = play_here(
        CoilChangeNote(0, "mount", "C-1"),
        Run(0, 100, 60),
        CoilChangeNote(100, "splice", "C-2"),
        Run(100, 340, 60),
        lead_in_mm=6000.0,
        die=die,
    )
    mounting_of = played.progression_mounting
    last_forty = [mounting_of[p] for p in list(played.piece_progression)[-40:]]
    assert Counter(last_forty) == {0: 15, 1: 25}


def test_two_splices_may_lie_in_the_lead_in_at_once() -> None:
    played = play_here(
        CoilChangeNote(0, "mount", "C-1"),
        Run(0, 10, 60),
        CoilChangeNote(10, "splice", "C-2"),
        Run(10, 12, 60),
        CoilChangeNote(12, "splice", "C-3"),
        Run(12, 22, 60),
        lead_in_mm=50.0,
    )
    assert [m.fed for m in played.mountings] == [15, 2, 5]


def test_a_cut_threads_the_same_coil_again() -> None:
    played = play_here(
        CoilChangeNote(0, "mount", "C-1"), Run(0, 10, 60), CoilChangeNote(10, "cut", "C-1"), Run(10, 20, 60)
    )
    (mounting,) = played.mountings
    assert (mounting.fed, mounting.finished) == (20, 14)
    assert list(played.piece_stroke)[7] == 13


def test_a_splice_right_after_a_cut_still_has_the_old_coils_strip_before_the_die() -> None:
    played = play_here(
        CoilChangeNote(0, "mount", "C-1"),
        Run(0, 10, 60),
        CoilChangeNote(10, "cut", "C-1"),
        CoilChangeNote(11, "splice", "C-2"),
        Run(11, 21, 60),
        lead_in_mm=25.0,
    )
    assert [m.fed for m in played.mountings] == [13, 7]
    assert pieces_by_coil(played) == {"C-1": 10, "C-2": 4}


def test_a_joint_changes_nothing() -> None:
    whole = play_here(CoilChangeNote(0, "mount", "C-1"), Run(0, 20, 60))
    joined = play_here(
        CoilChangeNote(0, "mount", "C-1"), Run(0, 10, 60), CoilChangeNote(10, "joint", "C-1"), Run(10, 20, 60)
    )
    assert joined.piece_progression == whole.piece_progression
    assert joined.mountings == whole.mountings


def test_an_out_that_parts_off_at_station_2_has_its_own_shorter_lag() -> None:
    played = play_here(CoilChangeNote(0, "mount", "C-1"), Run(0, 10, 60), die=TWO_OUT)
    assert Counter(played.piece_out) == {1: 7, 2: 9}
    first_of_b = list(played.piece_out).index(2)
    assert played.piece_stroke[first_of_b] == 1


def test_a_blanked_off_out_makes_no_pieces_until_it_is_opened_again() -> None:
    played = play_here(
        CoilChangeNote(0, "mount", "C-1"),
        Run(0, 10, 60),
        DieChangeNote(10, "change", "D-2", outs_running=(1,)),
        Run(10, 20, 60),
        DieChangeNote(20, "change", "D-2", outs_running=(1, 2)),
        Run(20, 30, 60),
        die=TWO_OUT,
    )
    assert Counter(played.piece_out) == {1: 27, 2: 19}


def test_strokes_without_strip_move_nothing() -> None:
    played = play_here(
        Run(0, 2, 60),
        CoilChangeNote(2, "mount", "C-1"),
        Run(2, 7, 60),
        Run(7, 9, 60, strip=False),
        Run(9, 14, 60),
    )
    assert list(played.stroke_mounting) == [NO_STRIP] * 2 + [0] * 5 + [NO_STRIP] * 2 + [0] * 5
    assert played.mountings[0].fed == 10
    assert len(played.piece_stroke) == 7


def test_a_pull_cuts_the_strip_and_the_coil_may_go_on_in_the_next_set() -> None:
    played = play_here(
        CoilChangeNote(0, "mount", "C-1"),
        Run(0, 10, 60),
        DieChangeNote(10, "pull", "D-1"),
        DieChangeNote(11, "set", "D-1"),
        Run(12, 22, 60),
        DieChangeNote(22, "first_off", "D-1"),
    )
    (mounting,) = played.mountings
    assert (mounting.fed, mounting.finished) == (20, 14)
    setting = [played.eras[era].setting for era in played.stroke_era]
    assert setting == [False] * 10 + [True] * 10


def test_the_rest_of_a_spliced_coil_may_be_weighed_later_without_touching_the_new_one() -> None:
    played = play_here(
        CoilChangeNote(0, "mount", "C-1"),
        Run(0, 10, 60),
        CoilChangeNote(10, "splice", "C-2"),
        CoilChangeNote(12, "remove", "C-1", weight_kg=3.5),
        Run(12, 22, 60),
    )
    old, new = played.mountings
    assert (old.removed_s, old.rest_kg) == (12, 3.5)
    assert (new.fed, new.removed_s) == (10, None)


def test_an_event_comes_after_the_strokes_of_its_second() -> None:
    played = play_here(CoilChangeNote(0, "mount", "C-1"), CoilChangeNote(3, "mount", "C-2"), Run(0, 10, 120))
    assert list(played.stroke_mounting) == [0] * 6 + [1] * 14


def test_runs_that_overlap_are_refused() -> None:
    with pytest.raises(ValueError, match="before"):
        play_here(Run(0, 10, 60), Run(9, 20, 60))


@pytest.mark.parametrize(("spm", "expected"), [(60, [1, 2, 3]), (40, [2, 3]), (150, [1, 1, 2, 2, 2, 3, 3])])
def test_strokes_come_evenly_and_stand_in_the_second_they_end_in(spm: int, expected: list[int]) -> None:
    assert Run(0, 3, spm).seconds() == expected
