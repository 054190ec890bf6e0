"""The strip in the die: N strokes through S stations give N - S + 1 pieces, and which coil each came from."""

from __future__ import annotations

import pytest
from hypothesis import given as for_all
from hypothesis import strategies as st

from monitor.reckoning.press.strip import (
    Strip,
    StripStretch,
    clear,
    cut,
    draw_in,
    forget,
    mount,
    park,
    parted,
    presumed,
    progressions,
    splice,
)


def run(strip: Strip, strokes: int, station: int) -> tuple[Strip, dict[str, int]]:
    """Feed some strokes; returns the strip and the pieces parted off at a station by mounting."""
    after, _ = draw_in(strip, strokes)
    made: dict[str, int] = {}
    for stretch in parted(after, strip.fed, station):
        made[stretch.mounting_id] = made.get(stretch.mounting_id, 0) + stretch.count
    return after, made


def test_10_strokes_of_a_new_strip_through_4_stations_give_7_pieces() -> None:
    _, made = run(mount(Strip(), "A", None, 4), 10, 4)
    assert made == {"A": 7}


def test_the_first_3_strokes_of_a_new_strip_through_4_stations_give_nothing() -> None:
    strip, made = run(mount(Strip(), "A", None, 4), 3, 4)
    assert made == {}
    assert run(strip, 1, 4)[1] == {"A": 1}


def test_an_out_that_parts_off_at_station_2_gives_9_pieces_in_10_strokes() -> None:
    _, made = run(mount(Strip(), "A", None, 4), 10, 2)
    assert made == {"A": 9}


def test_a_die_of_one_station_gives_a_piece_a_stroke() -> None:
    assert run(mount(Strip(), "A", None, 1), 10, 1)[1] == {"A": 10}


def test_mounting_the_next_coil_loses_the_tail_of_3_and_the_head_of_3_once_each() -> None:
    strip, first = run(mount(Strip(), "A", None, 4), 10, 4)
    _, second = run(mount(strip, "B", None, 4), 10, 4)
    assert (first, second) == ({"A": 7}, {"B": 7})


def test_splice_with_6_m_ahead_at_pitch_30_and_16_stations() -> None:
    # The joint reaches station 1 after 200 strokes, the first piece of the new coil leaves at stroke 216: of the 40
    # pieces at 240 strokes, 15 are of the old coil (201 to 215) and 25 of the new (216 to 240).
    strip, _ = run(mount(Strip(), "old", None, 16), 1000, 16)
    joined = splice(strip, "new", progressions(6000, 30), None)
    at_200, first = run(joined, 200, 16)
    _, last_40 = run(at_200, 40, 16)
    assert first == {"old": 200}
    assert last_40 == {"old": 15, "new": 25}


def test_splice_without_lead_in_owes_the_next_15_pieces_of_16_stations_to_the_old_coil() -> None:
    strip, _ = run(mount(Strip(), "old", None, 16), 100, 16)
    _, made = run(splice(strip, "new", 0, None), 40, 16)
    assert made == {"old": 15, "new": 25}


def test_splice_where_nothing_lies_in_the_die_threads_a_new_strip() -> None:
    assert run(splice(Strip(), "A", 7, None), 10, 4)[1] == {"A": 7}


def test_splice_after_a_cut_feeds_the_7_progressions_of_the_old_coil_that_lie_before_the_die() -> None:
    # 4 stations, 10 strokes: 7 pieces, and the 7 progressions fed first are still the old coil's.
    strip, _ = run(mount(Strip(), "old", None, 4), 10, 4)
    joined = splice(cut(strip, None, 4), "new", 7, None)
    assert run(joined, 10, 4)[1] == {"old": 7}
    assert draw_in(joined, 10)[1] == [StripStretch("old", 1, 7, 10), StripStretch("new", 8, 3, 0)]


def test_splice_that_spoils_2_progressions_loses_2_pieces_of_the_new_coil() -> None:
    strip, _ = run(mount(Strip(), "old", None, 4), 10, 4)
    _, made = run(splice(strip, "new", 0, 2), 10, 4)
    assert made == {"old": 3, "new": 5}


def test_butt_feed_pushes_the_old_tail_through_and_loses_what_was_noted() -> None:
    # lost 2 of S - 1 = 3: 3 pieces of the old coil still come, then 2 void, then 5 of 10 strokes are of the new coil.
    strip, _ = run(mount(Strip(), "old", None, 4), 10, 4)
    _, made = run(mount(strip, "new", 2, 4), 10, 4)
    assert made == {"old": 3, "new": 5}


def test_mount_with_as_much_lost_as_threading_loses_is_threading() -> None:
    strip, _ = run(mount(Strip(), "old", None, 4), 10, 4)
    assert run(mount(strip, "new", 3, 4), 10, 4)[1] == {"new": 7}


def test_cut_threads_the_same_coil_again_and_goes_on_counting_its_progressions() -> None:
    strip, made = run(mount(Strip(), "A", None, 4), 10, 4)
    again, drawn = draw_in(cut(strip, None, 4), 10)
    assert made == {"A": 7}
    assert drawn == [StripStretch("A", 1, 10, 10)]
    assert parted(again, 0, 4) == [StripStretch("A", 1, 7, 10)]


def test_cut_that_loses_one_progression_only_voids_that_one() -> None:
    strip, _ = run(mount(Strip(), "A", None, 4), 10, 4)
    assert run(cut(strip, 1, 4), 10, 4)[1] == {"A": 9}


def test_strip_taken_off_stays_in_the_die_and_is_pushed_through_by_a_splice() -> None:
    strip, _ = run(mount(Strip(), "old", None, 4), 10, 4)
    parked = park(strip)
    assert not parked.feeds
    _, made = run(splice(parked, "new", 0, None), 10, 4)
    assert made == {"old": 3, "new": 7}


def test_strip_taken_off_and_another_mounted_loses_the_tail() -> None:
    strip, _ = run(mount(Strip(), "old", None, 4), 10, 4)
    assert run(mount(park(strip), "new", None, 4), 10, 4)[1] == {"new": 7}


def test_nothing_on_the_press_does_not_feed() -> None:
    assert not Strip().feeds
    assert not park(Strip()).feeds
    assert not park(Strip()).parked


def test_pulling_the_die_cuts_the_strip_and_leaves_the_coil_on_the_decoiler() -> None:
    strip, _ = run(mount(Strip(), "A", None, 4), 10, 4)
    cleared = clear(strip)
    assert (cleared.feeds, cleared.joints, cleared.fed) == (True, (), 0)
    assert run(cleared, 10, 4)[1] == {"A": 7}


def test_strip_from_before_the_ledger_is_threaded_already_and_of_no_known_coil() -> None:
    assert run(presumed(), 10, 4)[1] == {"": 10}


def test_entry_is_the_place_of_a_progression_since_its_coil_was_mounted() -> None:
    strip, _ = run(mount(Strip(), "A", None, 4), 10, 4)
    joined, drawn = draw_in(splice(strip, "B", 2, None), 5)
    assert drawn == [StripStretch("A", 11, 2, 10), StripStretch("B", 13, 3, 0)]
    assert joined.progress == {"A": 12, "B": 3}


def test_forgetting_keeps_what_is_still_in_the_die() -> None:
    strip, _ = run(mount(Strip(), "old", None, 4), 10, 4)
    spliced = splice(strip, "new", 0, 1)
    for strokes, joints, voids in ((3, 2, 1), (1, 1, 1), (1, 1, 0)):
        spliced, _ = run(spliced, strokes, 4)
        spliced = forget(spliced, 4)
        assert (len(spliced.joints), len(spliced.voids)) == (joints, voids)
    assert set(spliced.progress) == {"new"}


@pytest.mark.parametrize(
    ("length_mm", "pitch_mm", "count"), [(0, 30, 0), (6000, 30, 200), (6001, 30, 201), (0.9, 0.3, 3), (-5, 30, 0)]
)
def test_progressions_that_a_length_reaches_into(length_mm: float, pitch_mm: float, count: int) -> None:
    assert progressions(length_mm, pitch_mm) == count


@for_all(st.lists(st.integers(1, 30), min_size=1, max_size=8), st.integers(1, 12), st.integers(0, 20))
def test_however_the_strokes_are_cut_up_every_fed_progression_is_finished_or_in_the_die(
    runs: list[int], stations: int, lead_in: int
) -> None:
    strip = mount(Strip(), "0", None, stations)
    drawn: dict[str, int] = {}
    made: dict[str, int] = {}
    for number, strokes in enumerate(runs, 1):
        after, stretches = draw_in(strip, strokes)
        for found, sums in ((stretches, drawn), (parted(after, strip.fed, stations), made)):
            for stretch in found:
                sums[stretch.mounting_id] = sums.get(stretch.mounting_id, 0) + stretch.count
        strip = splice(forget(after, stations), str(number), lead_in, None)
    fed = sum(runs)
    assert sum(drawn.values()) == fed
    assert sum(made.values()) == max(0, fed - stations + 1)
    assert all(made[name] <= drawn[name] for name in made)
