"""Merging rows of the tables held in SQL: the key decides, values and recorded_at settle the rest."""

from __future__ import annotations

import datetime as dt

import pyarrow as pa

from monitor.ledger import Ledger
from tests.ledger.given import DAY, SECOND_US, START_US, counts, load, rows

COIL = {"coil_id": "C1", "lot": "L1", "material": "DC01", "width_mm": 80.0, "thickness_mm": 1.0, "weight_kg": 2000.0}


def inspection(cause: str, rejected: int, at_s: int = 0, **more: object) -> dict[str, object]:
    when = START_US + at_s * SECOND_US
    given = {"inspection_id": "I1", "time": when, "press_id": "P01", "kind": "full", "inspected": 50}
    return given | {"cause": cause, "rejected": rejected} | more


def test_rows_come_back_with_every_column_of_the_contract(ledger: Ledger) -> None:
    part = {"part_no": "A1", "characteristic": "hole", "nominal": 4.5, "key": True, "valid_from": dt.date(2026, 6, 1)}
    load(ledger, "characteristics", rows("characteristics", [part, part | {"valid_from": None, "key": None}]))
    held = ledger.snapshot().rows("characteristics")
    assert held.schema.field("key").type == pa.bool_()
    assert held.select(["nominal", "unit", "key", "valid_from"]).to_pylist() == [
        {"nominal": 4.5, "unit": None, "key": None, "valid_from": None},
        {"nominal": 4.5, "unit": None, "key": True, "valid_from": dt.date(2026, 6, 1)},
    ]


def test_empty_text_and_nan_are_missing(ledger: Ledger) -> None:
    load(ledger, "coils", rows("coils", [COIL | {"supplier": "", "yield_mpa": float("nan")}]))
    assert counts(load(ledger, "coils", rows("coils", [COIL]))) == (0, 1, 0, 0)
    assert ledger.snapshot().rows("coils").select(["supplier", "yield_mpa"]).to_pylist() == [
        {"supplier": None, "yield_mpa": None}
    ]


def test_part_of_the_key_may_be_missing(ledger: Ledger) -> None:
    clean, burr = inspection("", 0), inspection("BUR", 3)
    assert counts(load(ledger, "inspections", rows("inspections", [clean, burr]))) == (2, 0, 0, 0)
    assert counts(load(ledger, "inspections", rows("inspections", [inspection("", 0), burr]))) == (0, 2, 0, 0)


def test_keys_that_read_alike_are_told_apart(ledger: Ledger) -> None:
    names = [('a","b', "c"), ("a", 'b","c'), ("a\x1fb", "c"), ("a", "b\x1fc"), ("null", "x")]
    shipped = [{"shipment_id": a, "container_id": b, "shipped_at": START_US} for a, b in names]
    assert counts(load(ledger, "shipments", rows("shipments", shipped))) == (5, 0, 0, 0)
    assert counts(load(ledger, "shipments", rows("shipments", shipped))) == (0, 5, 0, 0)


def test_contradiction_names_the_column_and_both_values(ledger: Ledger) -> None:
    load(ledger, "coils", rows("coils", [COIL]))
    merged = load(ledger, "coils", rows("coils", [COIL | {"weight_kg": 2100.0, "supplier": "North mill"}]))
    assert counts(merged) == (0, 0, 0, 1)
    assert merged.conflicts[0][0] == 2
    assert "weight_kg 2100.0 instead of 2000.0" in merged.conflicts[0][1]
    assert "supplier North mill instead of nothing" in merged.conflicts[0][1]
    assert "width_mm" not in merged.conflicts[0][1]


def test_contradiction_tells_times_as_times(ledger: Ledger) -> None:
    stop = {"press_id": "P01", "start_at": START_US, "reason": "JAM"}
    load(ledger, "stops", rows("stops", [stop]))
    merged = load(ledger, "stops", rows("stops", [stop | {"end_at": START_US + SECOND_US}]))
    assert "end_at 2026-11-02T06:00:01+01:00 instead of nothing" in merged.conflicts[0][1]


def test_later_recorded_row_corrects_and_the_old_one_stays_readable(ledger: Ledger) -> None:
    load(ledger, "coils", rows("coils", [COIL]))
    better = COIL | {"weight_kg": 2100.0, "recorded_at": START_US}
    assert counts(load(ledger, "coils", rows("coils", [better]))) == (0, 0, 1, 0)
    weights = [ledger.snapshot(version).rows("coils")["weight_kg"].to_pylist() for version in (1, 2)]
    assert weights == [[2000.0], [2100.0]]


def test_corrections_may_arrive_in_any_order(ledger: Ledger) -> None:
    first = COIL
    second = COIL | {"weight_kg": 2100.0, "recorded_at": START_US}
    third = COIL | {"weight_kg": 2200.0, "recorded_at": START_US + SECOND_US}
    assert counts(load(ledger, "coils", rows("coils", [third, first, second, third]))) == (1, 1, 2, 0)
    assert ledger.snapshot().rows("coils")["weight_kg"].to_pylist() == [2200.0]


def test_several_corrections_in_one_file_leave_the_last(ledger: Ledger) -> None:
    load(ledger, "coils", rows("coils", [COIL]))
    steps = [COIL | {"weight_kg": 2000.0 + n, "recorded_at": START_US + n * SECOND_US} for n in (1, 2, 3)]
    assert counts(load(ledger, "coils", rows("coils", steps))) == (0, 0, 3, 0)
    assert ledger.snapshot().rows("coils")["weight_kg"].to_pylist() == [2003.0]
    assert ledger.snapshot(1).rows("coils")["weight_kg"].to_pylist() == [2000.0]


def test_row_corrected_earlier_in_the_same_file_comes_again_as_a_repeat(ledger: Ledger) -> None:
    batch = [COIL, COIL | {"weight_kg": 2100.0, "recorded_at": START_US}, COIL]
    assert counts(load(ledger, "coils", rows("coils", batch))) == (1, 1, 1, 0)
    assert ledger.snapshot().rows("coils")["weight_kg"].to_pylist() == [2100.0]


def test_row_that_was_corrected_comes_again_as_a_repeat(ledger: Ledger) -> None:
    load(ledger, "coils", rows("coils", [COIL]))
    load(ledger, "coils", rows("coils", [COIL | {"weight_kg": 2100.0}]), correct=True)
    assert counts(load(ledger, "coils", rows("coils", [COIL]))) == (0, 1, 0, 0)
    assert ledger.snapshot().rows("coils")["weight_kg"].to_pylist() == [2100.0]


def test_file_that_contradicts_itself_is_not_taken_twice_even_to_correct(ledger: Ledger) -> None:
    load(ledger, "coils", rows("coils", [COIL]))
    twice = [COIL | {"weight_kg": 2100.0}, COIL | {"weight_kg": 2200.0}, COIL]
    merged = load(ledger, "coils", rows("coils", twice), correct=True)
    assert counts(merged) == (0, 0, 1, 2)
    assert [line for line, _ in merged.conflicts] == [3, 4]
    assert ledger.snapshot().rows("coils")["weight_kg"].to_pylist() == [2100.0]


def test_correction_touches_the_day_it_left_and_the_day_it_came_to(ledger: Ledger) -> None:
    load(ledger, "inspections", rows("inspections", [inspection("BUR", 3)]))
    moved = inspection("BUR", 3, at_s=-SECOND_US // SECOND_US, recorded_at=START_US)
    merged = load(ledger, "inspections", rows("inspections", [moved]))
    assert counts(merged) == (0, 0, 1, 0)
    assert merged.press_days == {("P01", DAY), ("P01", DAY - dt.timedelta(days=1))}
    assert merged.earliest_us == START_US - SECOND_US


def test_table_without_press_tells_how_far_back_it_reaches(ledger: Ledger) -> None:
    service = {"die_id": "D1", "time": START_US, "work": "sharpen"}
    merged = load(ledger, "die_service", rows("die_service", [service, service | {"station": 2}]))
    assert (merged.press_days, merged.earliest_us) == (set(), START_US)
    assert load(ledger, "coils", rows("coils", [COIL])).earliest_us is None


def test_rows_are_narrowed_by_press_and_time_and_stand_in_order(ledger: Ledger) -> None:
    stops = [
        {"press_id": press_id, "start_at": START_US + s * SECOND_US, "reason": "JAM"}
        for press_id, s in [("P02", 5), ("P01", 30), ("P01", 10), ("P01", 20)]
    ]
    load(ledger, "stops", rows("stops", stops))
    snapshot = ledger.snapshot()

    def seconds(press_id: str | None, from_s: int | None, to_s: int | None) -> list[int]:
        limits = [None if s is None else START_US + s * SECOND_US for s in (from_s, to_s)]
        held = snapshot.rows("stops", press_id, *limits)["start_at"].cast(pa.int64()).to_pylist()
        return [(us - START_US) // SECOND_US for us in held]

    assert seconds(None, None, None) == [5, 10, 20, 30]
    assert seconds("P01", 10, 30) == [10, 20]
    assert seconds("P01", 11, None) == [20, 30]
    assert seconds("P03", None, None) == []


def test_many_rows_are_looked_up_in_several_queries(ledger: Ledger) -> None:
    coils = [COIL | {"coil_id": f"C{n}"} for n in range(12_000)]
    load(ledger, "coils", rows("coils", coils))
    changed = [coil | {"weight_kg": 1.0} if n % 6000 == 0 else coil for n, coil in enumerate(coils)]
    assert counts(load(ledger, "coils", rows("coils", changed), correct=True)) == (0, 11_998, 2, 0)


def test_hostile_text_is_only_text(ledger: Ledger) -> None:
    name = "'; DROP TABLE rows_coils; -- \u0000 <script>"
    load(ledger, "coils", rows("coils", [COIL | {"coil_id": name}]))
    assert ledger.snapshot().rows("coils")["coil_id"].to_pylist() == [name]
    assert ledger.snapshot().known()["coils"] == frozenset({name})
