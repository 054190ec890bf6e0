import datetime as dt
import random
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.intake.csv import text_blocks
from tests.intake.taking import Taken, take, utc

HEAD = "time,press_id,counter\n"


def strokes(folder: Path, *rows: str) -> Taken:
    return take(folder, "strokes.csv", HEAD + "".join(row + "\n" for row in rows))


def test_the_clock_falls_while_the_counter_rises(tmp_path: Path) -> None:
    taken = strokes(
        tmp_path,
        "2026-10-25 01:50,P07,100", "2026-10-25 02:20,P07,110", "2026-10-25 02:50,P07,120",
        "2026-10-25 02:05,P07,130", "2026-10-25 02:40,P07,140", "2026-10-25 03:10,P07,150",
    )  # fmt: skip
    by_counter = {row["counter"]: row["time"] for row in taken.rows}
    assert by_counter == {
        100: utc("2026-10-24T23:50"), 110: utc("2026-10-25T00:20"), 120: utc("2026-10-25T00:50"),
        130: utc("2026-10-25T01:05"), 140: utc("2026-10-25T01:40"), 150: utc("2026-10-25T02:10"),
    }  # fmt: skip


def test_one_wall_time_twice_an_hour_of_strokes_apart(tmp_path: Path) -> None:
    taken = strokes(tmp_path, "2026-10-25 02:10,P07,4790110", "2026-10-25 02:10,P07,4794985")
    assert taken.column("time") == [utc("2026-10-25T00:10"), utc("2026-10-25T01:10")]


def test_two_readings_in_one_second_show_nothing(tmp_path: Path) -> None:
    taken = strokes(tmp_path, "2026-10-25 02:10:00,P07,100", "2026-10-25 02:10:00,P07,101")
    assert taken.rows == []
    assert all("which happened twice in Europe/Berlin" in reason for reason in taken.reasons.values())


def test_a_repeated_hour_that_is_only_seen_once_is_set_aside(tmp_path: Path) -> None:
    taken = strokes(tmp_path, "2026-10-25 01:59,P07,1", "2026-10-25 02:01,P07,2", "2026-10-25 03:01,P07,3")
    assert taken.column("counter") == [1, 3]
    assert list(taken.reasons) == [3]


def test_counter_order_settles_rows_that_come_sorted_by_the_clock(tmp_path: Path) -> None:
    taken = strokes(
        tmp_path,
        "2026-10-25 02:00,P07,100", "2026-10-25 02:00,P07,160",
        "2026-10-25 02:30,P07,130", "2026-10-25 02:30,P07,190",
    )  # fmt: skip
    assert {row["counter"]: row["time"] for row in taken.rows} == {
        100: utc("2026-10-25T00:00"), 130: utc("2026-10-25T00:30"),
        160: utc("2026-10-25T01:00"), 190: utc("2026-10-25T01:30"),
    }  # fmt: skip


SET_BACK = ["02:10,P07,900", "02:40,P07,950", "02:05,P07,10", "02:30,P07,30"]


def test_a_counter_set_back_in_the_repeated_hour_follows_a_file_in_order(tmp_path: Path) -> None:
    walls = ["01:30,P07,860", "01:50,P07,880", *SET_BACK, "03:10,P07,60"]
    taken = strokes(tmp_path, *(f"2026-10-25 {wall}" for wall in walls))
    assert {row["counter"]: row["time"] for row in taken.rows if row["time"].hour < 2} == {
        900: utc("2026-10-25T00:10"), 950: utc("2026-10-25T00:40"),
        10: utc("2026-10-25T01:05"), 30: utc("2026-10-25T01:30"),
    }  # fmt: skip


def test_a_counter_that_falls_with_nothing_around_it_settles_nothing(tmp_path: Path) -> None:
    assert strokes(tmp_path, *(f"2026-10-25 {wall}" for wall in SET_BACK)).rows == []


def test_a_counter_set_back_in_an_hour_seen_once_settles_nothing(tmp_path: Path) -> None:
    walls = ["01:30,P07,860", "01:50,P07,880", "02:10,P07,900", "02:40,P07,950", "02:50,P07,10", "03:10,P07,30"]
    assert list(strokes(tmp_path, *(f"2026-10-25 {wall}" for wall in walls)).reasons) == [4, 5, 6]


def test_a_standing_press_is_settled_by_the_order_of_the_file(tmp_path: Path) -> None:
    walls = ["02:00", "02:30", "02:00", "02:30"]
    taken = strokes(tmp_path, *(f"2026-10-25 {wall},P07,500" for wall in walls))
    assert [time.hour for time in taken.column("time")] == [0, 0, 1, 1]


def test_presses_are_settled_apart(tmp_path: Path) -> None:
    taken = strokes(
        tmp_path,
        "2026-10-25 02:50,P07,100", "2026-10-25 02:50,P08,7", "2026-10-25 02:10,P07,110", "2026-10-25 02:55,P08,9",
    )  # fmt: skip
    assert taken.column("press_id") == ["P07", "P07"]
    assert list(taken.reasons) == [3, 5]


def test_years_are_settled_apart(tmp_path: Path) -> None:
    taken = strokes(
        tmp_path,
        "2025-10-26 02:50,P07,100", "2025-10-26 02:10,P07,110", "2026-10-25 02:50,P07,200", "2026-10-25 02:10,P07,210",
    )  # fmt: skip
    assert taken.column("time") == [
        utc("2025-10-26T00:50"), utc("2025-10-26T01:10"), utc("2026-10-25T00:50"), utc("2026-10-25T01:10"),
    ]  # fmt: skip


def test_times_with_an_offset_need_no_settling(tmp_path: Path) -> None:
    taken = strokes(tmp_path, "2026-10-25T02:10+01:00,P07,110", "2026-10-25T02:50+02:00,P07,100")
    assert taken.column("time") == [utc("2026-10-25T01:10"), utc("2026-10-25T00:50")]


def test_a_row_at_fault_in_the_repeated_hour_keeps_its_own_reason(tmp_path: Path) -> None:
    taken = strokes(
        tmp_path,
        "2026-10-25 02:50,P07,100", "2026-10-25 02:55,P07,x", "2026-10-25 02:56,P99,3",
        "2026-10-25 02:10,P07,110", "2026-03-29 02:10,P07,120",
    )  # fmt: skip
    assert taken.column("counter") == [100, 110]
    assert [one.waits_for for one in taken.rejected] == [(), (("presses", "P99"),), ()]
    assert "counter is 'x'" in taken.reasons[3]
    assert "it never existed" in taken.reasons[6]


STOPS = "press_id,start_at,end_at,reason\n"


def test_other_tables_follow_the_order_of_the_file(tmp_path: Path) -> None:
    text = STOPS + (
        "P07,2026-10-25 01:30,2026-10-25 01:40,BRK\n"
        "P07,2026-10-25 02:50,,BRK\n"
        "P07,2026-10-25 02:15,2026-10-25 04:00,BRK\n"
    )
    taken = take(tmp_path, "stops.csv", text)
    assert [row["start_at"] for row in taken.rows[1:]] == [utc("2026-10-25T00:50"), utc("2026-10-25T01:15")]


@pytest.mark.parametrize("early", ["2026-10-25 05:00", "2026-10-24 22:00"])
def test_a_file_out_of_order_settles_nothing(tmp_path: Path, early: str) -> None:
    rows = ["P07,2026-10-25 02:50,,BRK\n", "P07,2026-10-25 02:15,,BRK\n"]
    others = [f"P07,{early},,BRK\n", "P07,2026-10-25 04:00,,BRK\n"]
    text = STOPS + "".join(others[:1] + rows + others[1:] if early > "2026-10-25" else rows + others)
    # Rows of the day before come after rows of the day: the order of the file is not the order of time.
    text += "P07,2026-10-23 04:00,,BRK\n"
    taken = take(tmp_path, "stops.csv", text)
    assert len(taken.rejected) == 2
    assert all("happened twice" in reason for reason in taken.reasons.values())


def test_rules_between_columns_hold_for_settled_rows(tmp_path: Path) -> None:
    text = STOPS + "P07,2026-10-25 02:50,2026-10-25 01:00,BRK\nP07,2026-10-25 02:15,2026-10-25 04:00,BRK\n"
    taken = take(tmp_path, "stops.csv", text)
    assert taken.lines == [3]
    assert "lies after" in taken.reasons[2]


SECOND = dt.timedelta(seconds=1)


@settings(deadline=None, max_examples=60)
@given(
    st.integers(20, 900),
    st.sampled_from(["Europe/Berlin", "America/Chicago", "Australia/Lord_Howe"]),
    st.booleans(),
    st.randoms(use_true_random=False),
    st.integers(150, 2000),
)
def test_any_regular_log_over_the_change_comes_back_as_it_was(
    tmp_path_factory: pytest.TempPathFactory, every_s: int, zone: str, shuffled: bool, dice: random.Random, size: int
) -> None:
    change = {"Europe/Berlin": (10, 25, 1), "America/Chicago": (11, 1, 7), "Australia/Lord_Howe": (4, 4, 15)}[zone]
    around = dt.datetime(2026, *change, tzinfo=dt.UTC)
    instants = [around + n * every_s * SECOND for n in range(-4500 // every_s, 4500 // every_s)]
    rows = [
        f"{instant.astimezone(ZoneInfo(zone)).replace(tzinfo=None).isoformat()},P07,{1000 + 7 * n}\n"
        for n, instant in enumerate(instants)
    ]
    if shuffled:
        dice.shuffle(rows)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(text_blocks, "BLOCK_BYTES", size)
        taken = take(tmp_path_factory.mktemp("s"), "strokes.csv", HEAD + "".join(rows), zone)
    truth = {1000 + 7 * n: instant for n, instant in enumerate(instants)}
    found = {row["counter"]: row["time"] for row in taken.rows}
    assert found == {counter: truth[counter] for counter in found}
    # A few rows in no order at all may look like a counter set back; then none of them is settled.
    assert shuffled or found == truth
    assert all("happened twice" in reason for reason in taken.reasons.values())
