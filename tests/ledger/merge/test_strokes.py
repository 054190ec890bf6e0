"""Merging counter readings: repeats, bursts, corrections, contradictions, and that order does not matter."""

from __future__ import annotations

import datetime as dt
import itertools
import tempfile
from pathlib import Path
from shutil import copytree

import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.ledger import Ledger
from shared.calendar import Calendar
from shared.plant import Plant
from tests.ledger.given import CALENDAR, DAY, SECOND_US, START_US, counts, load, readings, rows, strokes

HOUR = 3_600


def test_new_readings_are_kept_in_order_of_time(ledger: Ledger) -> None:
    merged = load(ledger, "strokes", strokes((20, 102), (0, 100), (10, 101)))
    assert counts(merged) == (3, 0, 0, 0)
    assert merged.press_days == {("P01", DAY)}
    assert merged.earliest_us == START_US
    assert readings(ledger.snapshot()) == [(0, 100), (10, 101), (20, 102)]


def test_same_readings_again_change_nothing(ledger: Ledger) -> None:
    batch = strokes((0, 100), (10, 101))
    load(ledger, "strokes", batch)
    again = load(ledger, "strokes", batch)
    assert counts(again) == (0, 2, 0, 0)
    assert again.press_days == set()
    assert again.earliest_us is None
    assert readings(ledger.snapshot()) == [(0, 100), (10, 101)]


def test_overlapping_file_adds_only_what_is_new(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((0, 100), (10, 101), (20, 102)))
    assert counts(load(ledger, "strokes", strokes((10, 101), (15, 101), (20, 102), (30, 103)))) == (2, 2, 0, 0)
    assert readings(ledger.snapshot()) == [(0, 100), (10, 101), (15, 101), (20, 102), (30, 103)]


def test_repeat_within_one_file_counts_as_repeat(ledger: Ledger) -> None:
    assert counts(load(ledger, "strokes", strokes((0, 100), (0, 100), (10, 101)))) == (2, 1, 0, 0)


def test_readings_of_a_night_belong_to_the_day_it_began(ledger: Ledger) -> None:
    merged = load(ledger, "strokes", strokes((23 * HOUR, 100), (24 * HOUR - 1, 200), (24 * HOUR, 300)))
    assert merged.press_days == {("P01", DAY), ("P01", DAY + dt.timedelta(days=1))}
    assert ledger.snapshot().stroke_days("P01") == [DAY, DAY + dt.timedelta(days=1)]


def test_presses_are_told_apart(ledger: Ledger) -> None:
    both = pa.concat_tables([strokes((0, 900), (5, 901), press_id="P10"), strokes((0, 100), (5, 101), press_id="P02")])
    merged = load(ledger, "strokes", both.take([0, 2, 1, 3]))
    assert counts(merged) == (4, 0, 0, 0)
    assert ledger.snapshot().presses_with_strokes() == ["P02", "P10"]
    assert readings(ledger.snapshot(), "P10") == [(0, 900), (5, 901)]
    assert readings(ledger.snapshot(), "P02") == [(0, 100), (5, 101)]


def test_reading_that_contradicts_is_set_aside_with_both_values(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((0, 100), (10, 101)))
    merged = load(ledger, "strokes", strokes((0, 100), (10, 999)))
    assert counts(merged) == (0, 1, 0, 1)
    line, reason = merged.conflicts[0]
    assert line == 3
    assert "counter 999 instead of 101" in reason
    assert reason.startswith("contradicts strokes-")
    assert ".csv, line 3: " in reason
    assert "--correct" in reason
    assert readings(ledger.snapshot()) == [(0, 100), (10, 101)]


def test_later_recorded_reading_corrects(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((0, 100), (10, 101), (20, 102)))
    merged = load(ledger, "strokes", strokes((10, 500), recorded_s=60))
    assert counts(merged) == (0, 0, 1, 0)
    assert merged.press_days == {("P01", DAY)}
    assert readings(ledger.snapshot()) == [(0, 100), (10, 500), (20, 102)]


def test_corrected_reading_stays_readable_at_its_version(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((0, 100), (10, 101)))
    load(ledger, "strokes", strokes((10, 500), recorded_s=60))
    assert readings(ledger.snapshot(1)) == [(0, 100), (10, 101)]
    assert readings(ledger.snapshot(2)) == [(0, 100), (10, 500)]


def test_earlier_recorded_reading_does_not_correct(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((10, 500), recorded_s=60))
    assert counts(load(ledger, "strokes", strokes((10, 501), recorded_s=60), burst={"P01": 0})) == (0, 0, 0, 1)
    assert counts(load(ledger, "strokes", strokes((10, 502), recorded_s=30), burst={"P01": 9})) == (1, 0, 0, 0)
    # What was written at 30 s was corrected at 60 s, whichever of the two came first.
    loads = ledger.snapshot().loads()
    assert loads[["new", "corrected", "set_aside"]].to_numpy().tolist() == [[0, 1, 0], [0, 0, 1], [1, 0, 0]]
    assert readings(ledger.snapshot()) == [(10, 500)]


def test_correct_replaces_whatever_was_recorded_when(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((10, 500), (20, 501), recorded_s=60))
    assert counts(load(ledger, "strokes", strokes((10, 400), (20, 501)), correct=True)) == (0, 1, 1, 0)
    assert readings(ledger.snapshot()) == [(10, 400), (20, 501)]


def test_row_that_was_corrected_comes_again_as_a_repeat(ledger: Ledger) -> None:
    original = strokes((0, 100), (10, 101))
    load(ledger, "strokes", original)
    load(ledger, "strokes", strokes((10, 500)), correct=True)
    grown = pa.concat_tables([original, strokes((20, 502))])
    assert counts(load(ledger, "strokes", grown)) == (1, 2, 0, 0)
    assert readings(ledger.snapshot()) == [(0, 100), (10, 500), (20, 502)]


def test_two_readings_in_one_second_stand_side_by_side(ledger: Ledger) -> None:
    merged = load(ledger, "strokes", strokes((10, 101), (10, 100), (11, 102)), burst={"P01": 4})
    assert counts(merged) == (3, 0, 0, 0)
    assert readings(ledger.snapshot()) == [(10, 100), (10, 101), (11, 102)]
    assert counts(load(ledger, "strokes", strokes((10, 103), (10, 100)), burst={"P01": 4})) == (1, 1, 0, 0)
    assert readings(ledger.snapshot()) == [(10, 100), (10, 101), (10, 103), (11, 102)]


def test_readings_of_one_second_too_far_apart_contradict(ledger: Ledger) -> None:
    merged = load(ledger, "strokes", strokes((10, 100), (10, 105), (10, 102)), burst={"P01": 4})
    assert counts(merged) == (2, 0, 0, 1)
    assert readings(ledger.snapshot()) == [(10, 100), (10, 102)]


def test_correction_of_a_burst_keeps_the_reading_it_repeats(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((10, 100), (10, 104), (11, 105)))
    assert counts(load(ledger, "strokes", strokes((10, 100), (10, 101)), correct=True)) == (0, 1, 1, 0)
    assert readings(ledger.snapshot()) == [(10, 100), (10, 101), (11, 105)]


def test_correction_over_two_batches_of_one_load_does_not_correct_itself(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((10, 200), (11, 201)))
    merged = load(ledger, "strokes", strokes((10, 100)), strokes((10, 101), (11, 102)), correct=True)
    assert counts(merged) == (1, 0, 2, 0)
    assert readings(ledger.snapshot()) == [(10, 100), (10, 101), (11, 102)]


def test_feeds_are_part_of_what_was_read(ledger: Ledger) -> None:
    reading = {"press_id": "P01", "time": START_US, "counter": 100}
    load(ledger, "strokes", rows("strokes", [reading | {"feeds": 90}, reading | {"time": START_US + 1, "feeds": None}]))
    assert ledger.snapshot().strokes("P01")["feeds"].to_pylist() == [90, None]
    again = load(ledger, "strokes", rows("strokes", [reading | {"feeds": 90}]))
    assert counts(again) == (0, 1, 0, 0)
    other = load(ledger, "strokes", rows("strokes", [reading]))
    assert counts(other) == (0, 0, 0, 1)
    assert "feeds nothing instead of 90" in other.conflicts[0][1]


def test_every_row_says_where_it_came_from(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((0, 100), (10, 101)))
    load(ledger, "strokes", strokes((0, 100), (10, 101), (20, 102)))
    held = ledger.snapshot().strokes("P01")
    assert held["load_id"].to_pylist() == [1, 1, 2]
    assert held["line"].to_pylist() == [2, 3, 4]


@pytest.mark.parametrize("parts", [1, 3, 4, 5, 17, 70])
def test_small_loads_one_after_another_are_tidied_and_lose_nothing(ledger: Ledger, parts: int) -> None:
    for part in range(parts):
        load(ledger, "strokes", strokes((2 * part, 100 + part)))
    assert readings(ledger.snapshot()) == [(2 * part, 100 + part) for part in range(parts)]
    with ledger.writer(CALENDAR) as writer:
        assert len(writer.parts.find("strokes", ["P01"], START_US, START_US + 10**12)) <= 9
    for version in range(1, parts + 1, 7):
        assert len(readings(ledger.snapshot(version))) == version


def test_correction_where_the_plant_day_once_began_at_another_hour(ledger: Ledger) -> None:
    midnight = Calendar(Plant.from_toml('timezone = "Europe/Berlin"'))
    with ledger.writer(midnight) as writer:
        load_id = writer.begin_load("a.csv", "strokes", "a", 1)
        writer.merge("strokes", strokes((-7200, 100), (-10, 101), (10, 102), (7200, 103)), load_id)
        writer.finish_load(load_id)
    merged = load(ledger, "strokes", strokes((-10, 201), (10, 202)), correct=True)
    assert counts(merged) == (0, 0, 2, 0)
    assert merged.press_days == {("P01", DAY - dt.timedelta(days=1)), ("P01", DAY)}
    assert readings(ledger.snapshot()) == [(-7200, 100), (-10, 201), (10, 202), (7200, 103)]


READINGS = st.lists(
    st.tuples(st.sampled_from(["P1", "P2"]), st.integers(0, 40), st.integers(0, 3), st.sampled_from([None, 5])),
    min_size=1,
    max_size=40,
)


def _consistent(chosen: list[tuple[str, int, int, int | None]]) -> list[dict[str, object]]:
    """Readings that do not contradict: several at one second, over a day's end, with feeds that follow the counter."""
    return [
        {
            "press_id": press_id,
            "time": START_US + (slot * HOUR + 12 * HOUR) * SECOND_US,
            "counter": slot * 10 + extra,
            "feeds": None if press_id == "P1" else slot * 10 + extra - 1,
            "recorded_at": None if recorded is None else START_US + (100 + slot) * HOUR * SECOND_US,
        }
        for press_id, slot, extra, recorded in chosen
    ]


@settings(max_examples=25, deadline=None)
@given(chosen=READINGS, data=st.data())
def test_any_split_and_order_of_the_same_rows_gives_the_same_readings(
    empty: Path, chosen: list[tuple[str, int, int, int | None]], data: st.DataObject
) -> None:
    # Rows of one second are recorded at one time or at none, as a logger writes them.
    same = {(press_id, slot): recorded for press_id, slot, _, recorded in chosen}
    records = _consistent([(p, slot, extra, same[p, slot]) for p, slot, extra, _ in chosen])
    shuffled = data.draw(st.permutations(records))
    cuts = sorted(data.draw(st.sets(st.integers(1, max(1, len(records) - 1)), max_size=4)) - {len(records)})
    bounds = [0, *cuts, len(records)]
    splits = [shuffled[low:high] for low, high in itertools.pairwise(bounds)]
    assert _stored(empty, [records]) == _stored(empty, splits)


def _stored(empty: Path, splits: list[list[dict[str, object]]]) -> tuple[list[tuple[object, ...]], int]:
    burst = {"P1": 3, "P2": 3}
    taken = 0
    with tempfile.TemporaryDirectory() as folder, Ledger.open(copytree(empty, Path(folder) / "ledger")) as ledger:
        for records in splits:
            merged = load(ledger, "strokes", rows("strokes", records), burst=burst)
            assert merged.conflicts == []
            assert merged.corrected == 0
            assert merged.new + merged.repeated == len(records)
            taken += merged.new
        snapshot = ledger.snapshot()
        held = [
            (press_id, *row)
            for press_id in snapshot.presses_with_strokes()
            for row in snapshot.strokes(press_id).select(["time", "counter", "feeds"]).to_pylist()
        ]
    return held, taken
