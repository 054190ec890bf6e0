"""The stops table."""

from __future__ import annotations

from monitor.figures.bounds import with_local_times
from monitor.figures.output.stops import FIGURE, stop_rows
from tests.figures.given import SECOND, START_US, book, facts

HOUR = 3600 * SECOND
SAME = {"stop_id": "S1", "reason": "PUN", "kind": "tooling"}


def piece(from_s: int, to_s: int, **more: object) -> dict[str, object]:
    """A stretch of a stop in seconds after 06:00."""
    return {**SAME, "from_us": START_US + from_s * SECOND, "to_us": START_US + to_s * SECOND, **more}


def shown(*rows: dict[str, object], standing: dict[str, int] | None = None) -> list[tuple[object, ...]]:
    """Rows as (stop, start, end, seconds, shift, reason)."""
    table = with_local_times(FIGURE, stop_rows(facts("stops", *rows), standing or {}), book().calendar)
    times = [[str(moment)[11:19] for moment in table[name]] for name in ("start_at", "end_at")]
    return list(zip(table["stop_id"], *times, table["seconds"], table["shift"], table["reason"], strict=True))


def test_stretches_that_two_plant_days_cut_apart_are_one_row() -> None:
    assert shown(piece(0, 300), piece(300, 500)) == [("S1", "06:00:00", "06:08:20", 500.0, "early", "PUN")]


def test_stop_over_a_shift_change_is_a_row_a_shift_with_one_stop_id() -> None:
    assert shown(piece(0, 300), piece(300, 500, shift="late")) == [
        ("S1", "06:00:00", "06:05:00", 300.0, "early", "PUN"),
        ("S1", "06:05:00", "06:08:20", 200.0, "late", "PUN"),
    ]


def test_other_reason_is_a_row_of_its_own_even_when_the_first_one_comes_back() -> None:
    rows = shown(piece(0, 100), piece(100, 200, reason="COI"), piece(200, 300))
    assert [(row[3], row[5]) for row in rows] == [(100.0, "PUN"), (100.0, "COI"), (100.0, "PUN")]


def test_stop_that_still_stands_has_no_end_in_its_last_row() -> None:
    still = {"S1": START_US + 500 * SECOND}
    rows = shown(piece(0, 300), piece(300, 500, shift="late"), standing=still)
    assert [row[2] for row in rows] == ["06:05:00", ""]


def test_part_of_a_standing_stop_that_lies_before_a_shift_change_has_its_end() -> None:
    # Only the early shift was asked for; the stop goes on in the late one.
    still = {"S1": START_US + 500 * SECOND}
    assert [row[2] for row in shown(piece(0, 300), standing=still)] == ["06:05:00"]


def test_rows_are_in_order_of_time() -> None:
    later = piece(400, 500, stop_id="S0")
    assert [row[0] for row in shown(later, piece(0, 300))] == ["S1", "S0"]


def test_stops_of_two_presses_do_not_join() -> None:
    assert len(shown(piece(0, 300), piece(300, 500, press_id="P2", stop_id="S2"))) == 2


def test_no_stops_give_no_rows() -> None:
    assert shown() == []
