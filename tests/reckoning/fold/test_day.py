"""One press-day, worked by hand: 60 strokes a minute is one a second; a stop begins after 60 s."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from hypothesis import given as for_all
from hypothesis import settings
from hypothesis import strategies as st

from monitor.reckoning.fold.day import Folded, fold
from monitor.reckoning.press.carry import Carry, Habits, from_json, to_json
from monitor.reckoning.press.counters import Reading
from monitor.reckoning.press.press_day import Event, Out
from tests.reckoning.given import (
    HOUR,
    NEW,
    SECOND,
    by_mounting,
    coil,
    die,
    entered,
    facts,
    plan,
    press_day,
    seconds,
    set_die,
    steady,
    total,
    window,
)

FOUR = die("D1", 4)
THREADED: tuple[Event, ...] = (set_die(0), coil(0, "A"))


def folded(rows: Sequence[tuple[int, ...]], events: Sequence[Event] = (), carry: Carry = NEW, **day: object) -> Folded:
    """Fold a press-day of a die of one station unless others are given."""
    return fold(press_day(rows, events, **day), carry)  # type: ignore[arg-type]


def test_strokes_of_100_s_through_4_stations_give_97_pieces_and_leave_3_unfinished() -> None:
    found = folded(steady(0, 100), THREADED, dies=[FOUR])
    assert total(facts(found, "strokes"), "strokes") == 100
    assert by_mounting(found, "pieces", "pieces") == {"A": 97}
    used = [row for row in facts(found, "mounts") if row["fed"]]
    assert [(row["fed"], row["finished"], row["pitch_mm"]) for row in used] == [(100, 97, 30.0)]


def test_splice_with_6_m_ahead_at_60_spm_40_pieces_at_240_strokes_are_15_old_and_25_new() -> None:
    # The note at 1000 s, 40 pieces are taken 240 s later.
    events = (set_die(0), coil(0, "old"), coil(1000, "new", "splice"))
    found = folded(steady(0, 1240), events, dies=[die("D1", 16)], lead_in_mm=6000.0, marks_s=[1200])
    last_40 = [row for row in facts(found, "pieces") if int(str(row["from_us"])) >= 1200 * SECOND]
    coils = {str(row["mounting_id"])[:3]: row["pieces"] for row in last_40}
    assert coils == {"old": 15, "new": 25}
    assert by_mounting(found, "strokes", "strokes") == {"old": 1200, "new": 40}


def test_strokes_and_time_stand_with_the_first_out_that_runs_whatever_part_the_die_was_set_for() -> None:
    two = die("D1", 1, Out(1, "N1", 1), Out(2, "N2", 1))
    # 40 s with both outs, set for the second; 60 s with the second alone.
    events = (set_die(0, part_no="N2"), coil(0, "A"), set_die(40, event="change", part_no="N1", outs_running=(2,)))
    found = folded(steady(0, 100), events, dies=[two])
    for kind, column, by_part in (
        ("strokes", "strokes", {"N1": 40, "N2": 60}),
        ("time", "running_us", {"N1": 40 * SECOND, "N2": 60 * SECOND}),
        ("pieces", "pieces", {"N1": 40, "N2": 100}),
    ):
        rows = facts(found, kind)
        assert {part: total([r for r in rows if r["part_no"] == part], column) for part in ("N1", "N2")} == by_part


def test_hour_boundary_inside_an_interval_splits_its_strokes_by_time() -> None:
    # 3590 to 3620 s with 30 strokes: 10 before the full hour, 20 after.
    found = folded([(3590, 0), (3620, 30)], THREADED)
    by_hour = {row["hour_us"]: row["strokes"] for row in facts(found, "strokes")}
    assert by_hour == {0: 10, HOUR * SECOND: 20}


def test_strokes_with_no_coil_on_make_no_pieces_and_use_no_strip() -> None:
    found = folded(steady(0, 100), (set_die(0), coil(40, "A")), carry=replace(NEW, last=Reading(0, 0)))
    rows = facts(found, "strokes")
    assert total(rows, "strokes") == 100
    assert total(rows, "fed") == 60
    assert total(facts(found, "pieces"), "pieces") == 60


def test_strokes_with_the_feed_off_make_no_pieces_when_the_press_counts_feeds() -> None:
    found = folded([(0, 0, 0), (30, 30, 30), (60, 60, 40)], THREADED)
    assert total(facts(found, "strokes"), "strokes") == 60
    assert total(facts(found, "strokes"), "fed") == 40
    assert total(facts(found, "pieces"), "pieces") == 40


def test_strokes_without_a_die_make_nothing() -> None:
    found = folded(steady(0, 100), (coil(0, "A"),))
    assert total(facts(found, "strokes"), "strokes") == 100
    assert total(facts(found, "strokes"), "fed") == 0
    assert facts(found, "pieces") == []
    assert {row["die_id"] for row in facts(found, "time")} == {""}


def test_press_that_ran_before_its_first_entry_makes_pieces_of_no_known_coil() -> None:
    ran = Carry(habits=Habits(first_off=False, strip_before=True))
    found = folded(steady(0, 100), (set_die(0), coil(40, "B", "splice")), ran, dies=[FOUR])
    # The die was set at the first reading, which cut the strip: 3 strokes of head, then 37 + 3 pieces before B's.
    assert by_mounting(found, "pieces", "pieces") == {"": 40, "B": 57}


def test_setup_strokes_end_with_the_first_off() -> None:
    events = (set_die(0), coil(0, "A"), set_die(40, event="first_off"))
    found = folded(steady(0, 100), events, Carry(habits=Habits(first_off=True)), dies=[FOUR])
    by_setup = {row["setup"]: row["pieces"] for row in facts(found, "pieces")}
    assert by_setup == {1: 37, 0: 60}
    assert {row["setup"]: row["strokes"] for row in facts(found, "strokes")} == {1: 40, 0: 60}


def test_two_parts_a_stroke_each_from_its_own_station() -> None:
    left_right = die("D1", 4, Out(1, "LEFT", 4), Out(2, "RIGHT", 2))
    found = folded(steady(0, 100), THREADED, dies=[left_right])
    assert {row["part_no"]: row["pieces"] for row in facts(found, "pieces")} == {"LEFT": 97, "RIGHT": 99}


def test_blanked_off_out_makes_no_pieces_from_then_on() -> None:
    two_out = die("D1", 4, Out(1, "N1", 4), Out(2, "N1", 4))
    events = (*THREADED, set_die(50, event="change", outs_running=(1,)))
    found = folded(steady(0, 100), events, dies=[two_out])
    by_out = dict.fromkeys((1, 2), 0)
    for row in facts(found, "pieces"):
        by_out[int(str(row["out"]))] += int(str(row["pieces"]))
    assert by_out == {1: 97, 2: 47}


def test_out_without_a_part_makes_the_part_the_die_is_set_for() -> None:
    bare = die("D1", 4, Out(1, "", 4))
    found = folded(steady(0, 100), (set_die(0, part_no="N9"), coil(0, "A")), dies=[bare])
    assert {row["part_no"] for row in facts(found, "pieces")} == {"N9"}


def test_die_change_cuts_the_strip_and_each_die_keeps_its_strokes() -> None:
    events = (*THREADED, set_die(50, event="pull"), set_die(60, "D2"))
    found = folded(steady(0, 100), events, dies=[FOUR, die("D2", 2)])
    strokes = {row["die_id"]: row["strokes"] for row in facts(found, "strokes")}
    assert strokes == {"D1": 50, "": 10, "D2": 40}
    # 50 - 3 and 40 - 1 pieces of the coil that stayed on the decoiler.
    assert {row["die_id"]: row["pieces"] for row in facts(found, "pieces")} == {"D1": 47, "D2": 39}


def test_planned_time_is_running_and_stopped_time_and_a_stop_is_split_by_its_entry() -> None:
    # Runs 0 to 100, stands 100 to 700, runs to 800; someone entered a punch from 450 on, 350 s after it began to stand.
    rows = steady(0, 100) + steady(700, 800, start=100)
    found = folded(rows, THREADED, stops=[entered(450, 700, "PUN")])
    assert seconds(found) == {"planned": 800, "running": 200, "stopped": 600, "extra": 0, "unresolved": 0}
    spans = [(row["from_us"], row["to_us"], row["reason"]) for row in facts(found, "stops")]
    assert spans == [
        (100 * SECOND, 450 * SECOND, "no reason yet"),
        (450 * SECOND, 700 * SECOND, "PUN"),
    ]
    assert {row["stop_id"] for row in facts(found, "stops")} == {"P1-19700101T000140Z"}
    assert {row["die_id"] for row in facts(found, "stops")} == {"D1"}


def test_planned_reason_takes_its_time_out_of_planned_time() -> None:
    rows = steady(0, 100) + steady(400, 500, start=100)
    found = folded(rows, THREADED, stops=[entered(100, 400, "MTG")])
    assert seconds(found) == {"planned": 200, "running": 200, "stopped": 0, "extra": 0, "unresolved": 0}


def test_running_through_the_break_is_added_to_planned_time_and_shown() -> None:
    on = plan(window("day", 0, 24 * HOUR, (200, 300)))
    found = folded(steady(0, 500), THREADED, on=on)
    assert seconds(found) == {"planned": 500, "running": 500, "stopped": 0, "extra": 100, "unresolved": 0}


def test_standing_in_the_break_is_neither_planned_nor_stopped() -> None:
    on = plan(window("day", 0, 24 * HOUR, (200, 300)))
    rows = steady(0, 200) + steady(300, 500, start=200)
    found = folded(rows, THREADED, on=on)
    assert seconds(found) == {"planned": 400, "running": 400, "stopped": 0, "extra": 0, "unresolved": 0}
    assert [row["reason"] for row in facts(found, "stops")] == ["break"]


def test_long_interval_ran_at_rated_speed_and_is_not_resolved_below_it() -> None:
    found = folded([(0, 0), (600, 600)], THREADED)
    assert seconds(found) == {"planned": 600, "running": 600, "stopped": 0, "extra": 0, "unresolved": 0}
    found = folded([(0, 0), (600, 500)], THREADED)
    assert seconds(found) == {"planned": 600, "running": 0, "stopped": 0, "extra": 0, "unresolved": 600}
    assert facts(found, "stops") == []


def test_strokes_of_a_gap_longer_than_a_shift_are_booked_to_the_second_they_were_read_in() -> None:
    # 13 h without a reading, 100 strokes, 97 pieces through four stations: all of them in the shift that was read.
    eight_hours = plan(window("early", 0, 8 * HOUR), window("late", 8 * HOUR, 16 * HOUR))
    found = folded([(0, 0), (13 * HOUR, 100)], THREADED, on=eight_hours, dies=[FOUR])
    assert [(row["shift"], row["hour_us"], row["strokes"]) for row in facts(found, "strokes")] == [
        ("late", 12 * HOUR * SECOND, 100)
    ]
    assert [(row["shift"], row["pieces"]) for row in facts(found, "pieces")] == [("late", 97)]
    assert seconds(found) == {
        "planned": 13 * HOUR, "running": 0, "stopped": 0, "extra": 0, "unresolved": 13 * HOUR
    }  # fmt: skip
    assert total(facts(found, "time"), "untimed") == 100
    spans = [(row["shift"], row["from_us"], row["to_us"]) for row in facts(found, "unresolved")]
    assert spans == [("early", 0, 8 * HOUR * SECOND), ("late", 8 * HOUR * SECOND, 13 * HOUR * SECOND)]


def test_strokes_of_a_gap_of_a_shift_are_spread_over_it() -> None:
    found = folded([(0, 0), (8 * HOUR, 8 * 100)], THREADED)
    assert [row["strokes"] for row in facts(found, "strokes")] == [100] * 8


def test_idle_at_the_end_waits_for_the_next_readings_to_be_told() -> None:
    first = folded([*steady(0, 100), (140, 100)], THREADED)
    assert seconds(first)["planned"] == 100
    assert [(p.from_us, p.to_us) for p in first.carry.pending] == [(100 * SECOND, 140 * SECOND)]
    ran = folded([(150, 110)], carry=first.carry)
    assert seconds(ran) == {"planned": 50, "running": 50, "stopped": 0, "extra": 0, "unresolved": 0}
    stood = folded([(200, 100), (210, 110)], carry=first.carry)
    assert seconds(stood) == {"planned": 110, "running": 10, "stopped": 100, "extra": 0, "unresolved": 0}
    assert [(r["from_us"], r["to_us"]) for r in facts(stood, "stops")] == [(100 * SECOND, 200 * SECOND)]


def test_stop_that_goes_on_in_the_next_fold_keeps_its_name_and_its_die() -> None:
    first = folded([*steady(0, 100), (300, 100)], THREADED)
    second = folded([(500, 100), (510, 110)], (set_die(400, event="pull"),), first.carry)
    both = [*facts(first, "stops"), *facts(second, "stops")]
    assert {row["stop_id"] for row in both} == {"P1-19700101T000140Z"}
    assert {row["die_id"] for row in both} == {"D1"}
    assert [(row["from_us"], row["to_us"]) for row in both] == [
        (100 * SECOND, 300 * SECOND),
        (300 * SECOND, 500 * SECOND),
    ]


def test_first_reading_speaks_for_the_minute_since_its_shift_began() -> None:
    on = plan(window("early", 6 * HOUR, 14 * HOUR))
    found = folded(steady(6 * HOUR + 40, 6 * HOUR + 100), on=on)
    assert seconds(found)["planned"] == 100
    late = folded(steady(6 * HOUR + 90, 6 * HOUR + 150), on=on)
    assert seconds(late)["planned"] == 60


def test_glitch_leaves_a_fact_that_says_where_it_was_read() -> None:
    found = folded([(0, 0), (10, 10), (20, 9000), (30, 30), (40, 40)], THREADED)
    glitch = facts(found, "glitches")[0]
    assert (glitch["load_id"], glitch["line"], glitch["time_us"], glitch["counter"]) == (1, 4, 20 * SECOND, 9000)
    assert total(facts(found, "strokes"), "strokes") == 40


def test_two_readings_of_one_second_lose_no_stroke_at_either_end_of_a_fold() -> None:
    first = folded([(0, 0), (0, 1), (10, 10), (10, 11)], THREADED)
    assert total(facts(first, "strokes"), "strokes") == 11
    second = folded([(10, 12), (20, 21), (20, 22)], carry=first.carry)
    assert total(facts(second, "strokes"), "strokes") == 11


def test_piece_carries_the_stroke_that_parted_it_off_and_its_place_in_the_coil() -> None:
    found = folded(steady(0, 100), THREADED, dies=[FOUR], marks_s=[50])
    rows = [(r["stroke_from"], r["stroke_to"], r["entry_from"], r["pieces"]) for r in facts(found, "pieces")]
    # Strokes count from 1: the first piece leaves at stroke 4, of progression 0 of the coil.
    assert rows == [(4, 51, 0, 47), (51, 101, 47, 50)]


def test_nothing_read_leaves_no_facts_and_the_state_as_it_was() -> None:
    found = folded([])
    assert all(not facts for facts in found.facts.by_kind().values())
    assert found.carry == NEW


def test_carry_survives_being_written_down() -> None:
    carry = folded([*steady(0, 100), (130, 100)], (*THREADED, coil(50, "B", "splice")), dies=[FOUR]).carry
    assert from_json(to_json(carry)) == carry
    assert to_json(from_json(to_json(carry))) == to_json(carry)


EVENTS = st.tuples(
    st.integers(0, 590),
    st.sampled_from(["set", "pull", "first_off", "mount", "splice", "joint", "cut", "remove"]),
    st.sampled_from(["A", "B"]),
)


@settings(max_examples=60)
@for_all(
    st.lists(st.integers(0, 15), min_size=2, max_size=60),
    st.lists(EVENTS, max_size=8),
    st.integers(1, 58),
    st.integers(1, 6),
    st.sampled_from([10, 50, 90, 8 * HOUR]),
)
def test_whatever_happens_sums_close_and_two_folds_give_what_one_gives(
    rises: list[int], happened: list[tuple[int, str, str]], cut_at: int, stations: int, every_s: int
) -> None:
    rows = [(every_s * i, int(counter)) for i, counter in enumerate(np.cumsum(rises))]
    events: list[Event] = [set_die(0), coil(0, "A")]
    for at, event, name in sorted(happened):
        die_event = event in ("set", "pull", "first_off")
        events.append(set_die(at, event=event) if die_event else coil(at, name, event))
    day = {"dies": [die("D1", stations)], "on": plan(window("day", 0, 6 * HOUR, (100, 250)))}
    whole = folded(rows, events, **day)
    cut_at = min(cut_at, len(rows) - 1)
    edge_us = rows[cut_at - 1][0] * SECOND
    first = folded(rows[:cut_at], [e for e in events if e.time_us <= edge_us], **day)
    second = folded(rows[cut_at:], [e for e in events if e.time_us > edge_us], first.carry, **day)
    assert sums(whole) == sums(first, second)
    assert total(facts(whole, "strokes"), "strokes") == rows[-1][1] - rows[0][1]
    assert to_json(whole.carry) == to_json(second.carry)


SUMMED = {
    "time": ("planned_us", "running_us", "stopped_us", "extra_us", "unresolved_us", "untimed"),
    "strokes": ("strokes", "fed"),
    "pieces": ("pieces",),
    "mounts": ("fed", "finished"),
}


def sums(*folds: Folded) -> dict[str, int]:
    """Sums over the facts of folds; planned = running + stopped + unresolved is checked."""
    for row in (row for found in folds for row in facts(found, "time")):
        assert row["planned_us"] == total([row], "running_us") + total([row], "stopped_us") + total(
            [row], "unresolved_us"
        )
    return {
        f"{kind}.{column}": sum(total(facts(found, kind), column) for found in folds)
        for kind, columns in SUMMED.items()
        for column in columns
    }
