"""Gaps between readings: a stop begins after 60 s; press and die are rated 60 strokes a minute, one a second."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from monitor.reckoning.fold.gaps import SeenTime, resolve
from monitor.reckoning.press.counters import Counted
from monitor.reckoning.press.press_day import Die, Event, Out, Plan
from monitor.reckoning.press.stops import PlanIndex
from tests.reckoning.given import ALL_DAY, HOUR, NEW, SECOND, counted, plan, press_day, set_die, window

THREE_SHIFTS = plan(
    window("early", 6 * HOUR, 14 * HOUR), window("late", 14 * HOUR, 22 * HOUR), window("night", 22 * HOUR, 30 * HOUR)
)
SLOW = Die("SLOW", 30.0, 30.0, 1, (Out(1, "N1", 1),))


def seen(
    found: Counted,
    events: Sequence[Event] = (set_die(0),),
    on: Plan = ALL_DAY,
    moments_s: Sequence[int] = (),
    **press: object,
) -> SeenTime:
    day = press_day([], events, dies=[SLOW, Die("D1", 30.0, 60.0, 1, (Out(1, "N1", 1),))], on=on, **press)
    return resolve(found, day, NEW, PlanIndex(on), [moment * SECOND for moment in moments_s])


def test_readings_no_further_apart_than_a_stop_are_seen_however_few_the_strokes() -> None:
    assert seen(counted((0, 0), (60, 1))).unresolved.tolist() == [False]
    assert seen(counted((0, 0), (60, 1), (150, 11))).unresolved.tolist() == [False, True]


def test_a_gap_ran_when_its_strokes_at_rated_speed_leave_no_room_for_a_stop() -> None:
    # 600 s, a stop of more than 60 s could hide where the strokes take less than 540 s: 540 at one a second.
    assert seen(counted((0, 0), (600, 540))).unresolved.tolist() == [False]
    assert seen(counted((0, 0), (600, 539))).unresolved.tolist() == [True]


def test_the_lower_rated_speed_of_press_and_die_counts() -> None:
    # A die of 30 a minute takes 540 s for 270 strokes; a press of 20 a minute takes as long for 180.
    slow = (set_die(0, "SLOW"),)
    assert seen(counted((0, 0), (600, 270)), slow).unresolved.tolist() == [False]
    assert seen(counted((0, 0), (600, 269)), slow).unresolved.tolist() == [True]
    assert seen(counted((0, 0), (600, 180)), slow, rated_spm=20.0).unresolved.tolist() == [False]


def test_of_two_dies_in_one_gap_the_faster_counts() -> None:
    # 270 strokes would take the slow die 540 s, but the fast one, set after 300 s, might have made most of them.
    both = (set_die(0, "SLOW"), set_die(300))
    assert seen(counted((0, 0), (600, 270)), both).unresolved.tolist() == [True]
    assert seen(counted((0, 0), (600, 540)), both).unresolved.tolist() == [False]


def test_without_a_rated_speed_nobody_knows() -> None:
    assert seen(counted((0, 0), (600, 600)), (set_die(0, "OTHER"),), rated_spm=None).unresolved.tolist() == [True]
    assert seen(counted((0, 0), (600, 600)), (set_die(0, "D1"),), rated_spm=None).unresolved.tolist() == [False]
    assert seen(counted((0, 0), (600, 600)), (), rated_spm=60.0).unresolved.tolist() == [False]


def test_a_counter_that_was_set_back_in_a_gap_moved() -> None:
    steady = counted((0, 50), (600, 50))
    reset = Counted(steady.start_us, steady.end_us, steady.strokes, steady.feeds, resets_us=(600 * SECOND,))
    assert (seen(steady).idle.tolist(), seen(steady).unresolved.tolist()) == ([True], [False])
    assert (seen(reset).idle.tolist(), seen(reset).unresolved.tolist()) == ([False], [True])


def test_a_gap_of_a_shift_and_five_minutes_is_spread_and_a_longer_one_counts_at_its_end() -> None:
    whole = counted((6 * HOUR, 0), (14 * HOUR + 300, 800))
    assert seen(whole, on=THREE_SHIFTS).counted.strokes.tolist() == [800]
    longer = seen(counted((6 * HOUR, 0), (14 * HOUR + 301, 800)), on=THREE_SHIFTS, moments_s=[14 * HOUR])
    assert longer.counted.strokes.tolist() == [0, 800]
    assert longer.counted.start_us.tolist() == [6 * HOUR * SECOND, (14 * HOUR + 300) * SECOND]
    assert longer.spans == [(6 * HOUR * SECOND, (14 * HOUR + 301) * SECOND)]
    assert longer.untimed.tolist() == [0, 800]


def test_the_longest_shift_that_a_gap_meets_says_how_far_it_is_spread() -> None:
    # The early shift lasts 8.5 h, the late one 7.5 h: the reading after the early one comes a minute late.
    on = plan(window("early", 6 * HOUR, 14 * HOUR + 1800), window("late", 14 * HOUR + 1800, 22 * HOUR))
    gap = counted((6 * HOUR, 0), (14 * HOUR + 1860, 800))
    assert seen(gap, on=on).counted.strokes.tolist() == [800]


def test_strokes_of_a_longer_gap_come_after_all_that_was_noted_before_the_reading() -> None:
    # A shift that begins half a second before the reading holds all of them.
    found = counted((0, 0), (14 * HOUR, 900))
    half = SECOND // 2
    late = Counted(found.start_us, found.end_us + half, found.strokes, found.feeds)
    assert seen(late, on=THREE_SHIFTS, moments_s=[14 * HOUR]).counted.start_us.tolist() == [0, 14 * HOUR * SECOND]


def test_a_gap_of_a_shift_and_more_is_never_taken_as_run_through() -> None:
    # 13 h at rated speed without a stop of a minute: rather the rated speed is wrong.
    found = seen(counted((0, 0), (13 * HOUR, 13 * HOUR)), on=THREE_SHIFTS)
    assert found.unresolved.tolist() == [True, True]


def test_no_interval_leaves_nothing() -> None:
    none = np.empty(0, dtype=np.int64)
    assert seen(Counted(none, none, none, none)).spans == []
