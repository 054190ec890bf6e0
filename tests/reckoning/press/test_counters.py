"""From counter readings to strokes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given as for_all
from hypothesis import strategies as st

from monitor.reckoning.press.counters import Counted, Reading, count_strokes
from tests.reckoning.given import SECOND, readings, steady


def count(*rows: tuple[int, ...], last: Reading | None = None, modulus: int | None = None, ahead: int = 0) -> Counted:
    """Count at a rated 60 strokes a minute: at most 1.5 a second and one more between two readings."""
    return count_strokes(readings(*rows), last, rated_spm=60.0, modulus=modulus, ahead=ahead)


def test_first_reading_ever_only_sets_the_start() -> None:
    found = count((0, 500), (10, 510), (20, 519))
    assert found.strokes.tolist() == [10, 9]
    assert found.start_us.tolist() == [0, 10 * SECOND]
    assert found.last == Reading(20 * SECOND, 519)


def test_strokes_since_the_carried_reading_are_counted() -> None:
    found = count((10, 510), last=Reading(0, 500))
    assert found.strokes.tolist() == [10]
    assert found.start_us.tolist() == [0]


def test_no_readings_keep_the_carried_one() -> None:
    assert count(last=Reading(0, 500)).last == Reading(0, 500)
    assert count().last is None


def test_fall_of_99_995_to_5_in_10_s_is_a_rollover_of_10_at_modulus_100_000() -> None:
    found = count((0, 99_990), (5, 99_995), (15, 5), (20, 10), modulus=100_000)
    assert found.strokes.tolist() == [5, 10, 5]
    assert found.resets_us == ()


def test_fall_that_would_roll_over_too_fast_is_a_reset() -> None:
    # 100 000 - 50 000 + 5 = 50 005 strokes in 10 s; at most 16 are possible.
    found = count((0, 50_000), (10, 5), (20, 15), modulus=100_000)
    assert found.strokes.tolist() == [5, 10]
    assert found.resets_us == (10 * SECOND,)


def test_reset_counts_the_new_reading() -> None:
    found = count((0, 500), (10, 7), (20, 17))
    assert found.strokes.tolist() == [7, 10]
    assert found.resets_us == (10 * SECOND,)
    assert found.total == 17


def test_fall_to_a_reading_that_cannot_have_run_since_counts_nothing() -> None:
    # 300 strokes in 10 s were not possible (at most 16): the counter was exchanged, not set to zero.
    found = count((0, 500), (10, 300), (20, 310), (30, 320))
    assert found.strokes.tolist() == [0, 10, 10]
    assert found.resets_us == (10 * SECOND,)


def test_reset_at_the_last_reading_is_not_settled() -> None:
    assert not count((0, 500), (10, 7)).settled
    assert count((0, 500), (10, 7), (20, 17)).settled


def test_glitch_up_for_one_reading_is_set_aside_and_no_stroke_is_lost() -> None:
    found = count((0, 500), (10, 4510), (20, 520), (30, 530))
    assert found.strokes.tolist() == [20, 10]
    assert [glitch.index for glitch in found.glitches] == [1]
    assert found.glitches[0].reason == (
        "counter rose by 4010 to 4510; at most 16 strokes were possible since the reading before"
    )
    assert found.resets_us == ()


def test_glitch_down_for_one_reading_is_set_aside_and_no_stroke_is_lost() -> None:
    found = count((0, 500), (10, 0), (20, 520), (30, 530))
    assert found.strokes.tolist() == [20, 10]
    assert [glitch.index for glitch in found.glitches] == [1]
    assert "fell by 500 to 0 and came back" in found.glitches[0].reason


def test_glitch_index_counts_the_readings_not_the_carried_one() -> None:
    found = count((10, 4510), (20, 520), last=Reading(0, 500))
    assert [glitch.index for glitch in found.glitches] == [0]


def test_two_glitches_in_a_row_are_both_set_aside() -> None:
    found = count((0, 500), (10, 4510), (20, 9000), (30, 530))
    assert found.strokes.tolist() == [30]
    assert [glitch.index for glitch in found.glitches] == [1, 2]


def test_jump_is_believed_when_five_readings_go_on_from_it() -> None:
    found = count((0, 500), (10, 4510), *((20 + 10 * i, 4520 + 10 * i) for i in range(5)))
    assert found.strokes.tolist() == [0, 10, 10, 10, 10, 10]
    assert found.resets_us == (10 * SECOND,)
    assert found.glitches == ()
    assert found.settled


def test_jump_is_not_believed_yet_when_four_readings_go_on_from_it() -> None:
    found = count((0, 500), (10, 4510), *((20 + 10 * i, 4520 + 10 * i) for i in range(4)))
    assert found.strokes.tolist() == []
    assert found.last == Reading(0, 500)
    assert not found.settled


def test_jump_is_judged_by_the_readings_ahead_which_are_not_counted() -> None:
    found = count((0, 500), (10, 4510), *((20 + 10 * i, 4520 + 10 * i) for i in range(5)), ahead=5)
    assert found.strokes.tolist() == [0]
    assert found.last == Reading(10 * SECOND, 4510)
    assert found.settled


def test_glitch_ahead_is_left_to_its_own_day() -> None:
    found = count((0, 500), (10, 510), (20, 4520), (30, 530), ahead=2)
    assert found.strokes.tolist() == [10]
    assert found.glitches == ()


def test_doubt_about_a_reading_ahead_leaves_the_ones_before_it_settled() -> None:
    found = count((0, 500), (10, 510), (20, 4520), (30, 4530), ahead=2)
    assert found.strokes.tolist() == [10]
    assert found.settled


def test_two_readings_in_one_second_may_lie_one_stroke_apart() -> None:
    assert count((0, 500), (0, 501), (10, 510)).strokes.tolist() == [1, 9]


def test_without_a_rated_speed_no_rise_is_doubted() -> None:
    found = count_strokes(readings((0, 0), (1, 10_000)), None, rated_spm=None, modulus=None)
    assert found.strokes.tolist() == [10_000]


def test_feeds_between_readings() -> None:
    found = count((0, 500, 400), (10, 510, 408), (20, 520, 408))
    assert found.feeds.tolist() == [8, 0]
    assert found.last == Reading(20 * SECOND, 520, 408)


def test_feeds_never_exceed_the_strokes() -> None:
    assert count((0, 500, 400), (10, 510, 425)).feeds.tolist() == [10]


def test_feeds_are_not_known_beside_a_reading_without_them() -> None:
    assert count((0, 500, 400), (10, 510, -1), (20, 520, 420)).feeds.tolist() == [-1, -1]


def test_feeds_reset_with_the_counter_count_their_new_reading() -> None:
    # 7 strokes since the reset, 6 of them with strip.
    assert count((0, 500, 400), (10, 7, 6), (20, 17, 16)).feeds.tolist() == [6, 10]


def test_feeds_roll_over_at_the_modulus_of_the_counter() -> None:
    # 99 996 to 3 with modulus 100 000 is 7 feeds, of 10 strokes.
    found = count((0, 500, 99_996), (10, 510, 3), modulus=100_000)
    assert found.feeds.tolist() == [7]


@for_all(st.lists(st.integers(0, 10), min_size=2, max_size=60), st.integers(20, 200))
def test_counter_that_rolls_over_gives_every_stroke(rises: list[int], modulus: int) -> None:
    true = np.cumsum(rises)
    found = count(*((10 * i, int(c) % modulus) for i, c in enumerate(true)), modulus=modulus)
    assert found.total == true[-1] - true[0]
    assert found.glitches == ()


@for_all(st.integers(1, 8), st.integers(100, 10_000), st.booleans())
def test_one_glitch_anywhere_costs_no_stroke(at: int, size: int, up: bool) -> None:
    rows = [list(row) for row in steady(0, 100, start=20_000)]
    rows[at][1] += size if up else -size
    found = count(*(tuple(row) for row in rows))
    assert found.total == 100
    assert len(found.glitches) == 1


@pytest.mark.parametrize("strokes", [15, 16, 17])
def test_limit_is_one_and_a_half_times_the_rated_speed_and_one_stroke(strokes: int) -> None:
    # 60 spm x 1.5 = 15 in 10 s; clocks round, so 16 may be true.
    found = count((0, 0), (10, strokes), (20, 20))
    assert bool(found.glitches) == (strokes > 16)
