"""Merging measurements: keyed rows that live in Parquet."""

from __future__ import annotations

import datetime as dt

from monitor.ledger import Ledger
from tests.ledger.given import CALENDAR, DAY, SECOND_US, START_US, counts, load, rows


def measured(piece: int, value: float, at_s: int = 0, **more: object) -> dict[str, object]:
    when = {"time": START_US + at_s * SECOND_US, "press_id": "P01", "part_no": "A1", "characteristic": "hole"}
    return when | {"piece": piece, "value": value} | more


def values(ledger: Ledger, version: int | None = None) -> list[float]:
    held: list[float] = ledger.snapshot(version).rows("measurements")["value"].to_pylist()
    return held


def test_new_then_same_then_more(ledger: Ledger) -> None:
    first = [measured(2, 4.52), measured(1, 4.51), measured(1, 4.53, at_s=60, press_id="P02")]
    merged = load(ledger, "measurements", rows("measurements", first))
    assert counts(merged) == (3, 0, 0, 0)
    assert merged.press_days == {("P01", DAY), ("P02", DAY)}
    assert values(ledger) == [4.51, 4.52, 4.53]
    again = load(ledger, "measurements", rows("measurements", [*first, measured(3, 4.54)]))
    assert counts(again) == (1, 3, 0, 0)
    assert values(ledger) == [4.51, 4.52, 4.54, 4.53]


def test_contradiction_is_set_aside(ledger: Ledger) -> None:
    load(ledger, "measurements", rows("measurements", [measured(1, 4.51)]))
    merged = load(ledger, "measurements", rows("measurements", [measured(1, 4.6)]))
    assert counts(merged) == (0, 0, 0, 1)
    assert "value 4.6 instead of 4.51" in merged.conflicts[0][1]


def test_correction_keeps_the_others_and_the_old_version(ledger: Ledger) -> None:
    load(ledger, "measurements", rows("measurements", [measured(n, 4.5 + n) for n in (1, 2, 3)]))
    merged = load(ledger, "measurements", rows("measurements", [measured(2, 9.0, recorded_at=START_US)]))
    assert counts(merged) == (0, 0, 1, 0)
    assert values(ledger) == [5.5, 9.0, 7.5]
    assert values(ledger, 1) == [5.5, 6.5, 7.5]
    again = load(ledger, "measurements", rows("measurements", [measured(n, 4.5 + n) for n in (1, 2, 3)]))
    assert counts(again) == (0, 3, 0, 0)


def test_correction_of_small_parts_that_are_due_to_be_tidied(ledger: Ledger) -> None:
    for n in range(3):
        load(ledger, "measurements", rows("measurements", [measured(1, float(n), at_s=n)]))
    changed = [measured(1, 10.0, at_s=0), measured(1, 1.0, at_s=1), measured(1, 12.0, at_s=2)]
    assert counts(load(ledger, "measurements", rows("measurements", changed), correct=True)) == (0, 1, 2, 0)
    assert values(ledger) == [10.0, 1.0, 12.0]


def test_correction_may_move_a_value_to_another_press(ledger: Ledger) -> None:
    load(ledger, "measurements", rows("measurements", [measured(1, 4.51)]))
    moved = rows("measurements", [measured(1, 4.51, press_id="P02")])
    merged = load(ledger, "measurements", moved, correct=True)
    assert counts(merged) == (0, 0, 1, 0)
    assert merged.press_days == {("P01", DAY), ("P02", DAY)}
    snapshot = ledger.snapshot()
    assert snapshot.rows("measurements", "P01").num_rows == 0
    assert snapshot.rows("measurements", "P02")["value"].to_pylist() == [4.51]


def test_repeat_and_correction_within_one_file(ledger: Ledger) -> None:
    batch = [measured(1, 4.5), measured(1, 4.5), measured(1, 4.6, recorded_at=START_US)]
    assert counts(load(ledger, "measurements", rows("measurements", batch))) == (1, 1, 1, 0)
    assert values(ledger) == [4.6]


def test_many_small_loads_over_two_days_are_tidied(ledger: Ledger) -> None:
    for n in range(20):
        at_s = (n % 2) * 86_400 + n
        load(ledger, "measurements", rows("measurements", [measured(1, float(n), at_s=at_s)]))
    assert values(ledger) == [float(n) for n in (*range(0, 20, 2), *range(1, 20, 2))]
    assert values(ledger, 7) == [0.0, 2.0, 4.0, 6.0, 1.0, 3.0, 5.0]
    with ledger.writer(CALENDAR) as writer:
        assert len(writer.parts.find("measurements", None, START_US, START_US + 10**12)) <= 10


def test_rows_are_narrowed_by_press_and_time(ledger: Ledger) -> None:
    load(ledger, "measurements", rows("measurements", [measured(1, float(n), at_s=n) for n in range(10)]))
    held = ledger.snapshot().rows("measurements", "P01", START_US + 3 * SECOND_US, START_US + 6 * SECOND_US)
    assert held["value"].to_pylist() == [3.0, 4.0, 5.0]
    assert held["time"].to_pylist()[0] == dt.datetime(2026, 11, 2, 5, 0, 3, tzinfo=dt.UTC)
    assert ledger.snapshot().rows("measurements", "P09").schema == held.schema
