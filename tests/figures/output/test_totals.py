"""Output and time by shift and hour."""

from __future__ import annotations

import pandas as pd
import pytest

from monitor.figures.output.hours import hour_rows
from monitor.figures.output.shifts import shift_rows
from monitor.figures.output.totals import HOUR, SHIFT, totals
from tests.figures.given import SECOND, START_US, book, facts

TIME = facts(
    "time",
    {"setup": 1, "planned_us": 600 * SECOND, "running_us": 400 * SECOND, "stopped_us": 200 * SECOND},
    {"planned_us": 3000 * SECOND, "running_us": 2600 * SECOND, "stopped_us": 400 * SECOND, "extra_us": 100 * SECOND},
)
STROKES = facts("strokes", {"setup": 1, "strokes": 400, "fed": 380}, {"strokes": 2600, "fed": 2600})
PIECES = facts("pieces", {"setup": 1, "pieces": 365}, {"pieces": 2600})
BOOK = book(
    presses=[{"press_id": "P1", "rated_spm": 100.0}],
    dies=[{"die_id": "D1", "pitch_mm": 30.0, "parts_per_stroke": 1, "rated_spm": 80.0}],
)


def summed(*rejects: dict[str, object], key: list[str] = SHIFT) -> pd.DataFrame:
    """Totals of the facts above and some rejects."""
    return totals(TIME, STROKES, PIECES, facts("rejects", *rejects), key)


def only(table: pd.DataFrame) -> dict[str, object]:
    """The one row of a table."""
    assert len(table) == 1
    return {str(name): value for name, value in table.iloc[0].items()}


def test_shift_of_3000_strokes_sums_setting_and_running() -> None:
    row = only(shift_rows(summed(), BOOK))
    assert (row["strokes"], row["setup_strokes"], row["strokes_without_strip"]) == (3000, 400, 20)
    assert (row["pieces"], row["setup_pieces"], row["good"]) == (2965, 365, 2600)
    assert (row["planned_s"], row["running_s"], row["stopped_s"]) == (3600, 3000, 600)
    assert (row["setup_s"], row["extra_run_s"]) == (600, 100)


def test_rates_and_indices_of_the_same_shift() -> None:
    row = only(shift_rows(summed(), BOOK))
    assert row["parts_per_planned_hour"] == pytest.approx(2965)
    assert row["parts_per_running_hour"] == pytest.approx(2965 * 3600 / 3000)
    assert row["availability"] == pytest.approx(3000 / 3600)
    # The die is the slower of the two: 80 a minute is 4000 pieces in 3000 s.
    assert row["effectiveness"] == pytest.approx(2965 / 4000)
    assert row["quality"] == pytest.approx(2600 / 2965)
    assert row["oee_index"] == pytest.approx(3000 / 3600 * 2965 / 4000 * 2600 / 2965)


def test_pieces_are_good_reworked_rejected_and_setting_pieces() -> None:
    row = only(summed({"cause": "BUR", "rejected": 35, "reworked": 15}))
    assert (row["pieces"], row["setup_pieces"], row["rejected"], row["reworked"], row["good"]) == (
        2965,
        365,
        35,
        15,
        2550,
    )


def test_released_setting_pieces_are_good_and_pieces_used_up_are_not() -> None:
    row = only(summed({"setup": 1, "released": 300}, {"released": -2}))
    assert (row["setup_pieces"], row["good"]) == (67, 2898)


def test_rejects_among_setting_pieces_are_not_taken_off_twice() -> None:
    row = only(summed({"setup": 1, "cause": "BUR", "rejected": 50, "reworked": 4}))
    assert (row["rejected"], row["reworked"], row["good"]) == (0, 0, 2600)


def test_rejects_whose_pieces_nobody_found_keep_a_row_whose_good_is_not_known() -> None:
    table = summed({"cause": "BUR", "rejected": 3, "die_id": ""}).set_index("die_id")
    assert table.loc["", ["pieces", "rejected"]].tolist() == [0, 3]
    assert pd.isna(table.loc["", "good"])


def test_more_rejected_than_made_leaves_good_and_its_ratios_empty() -> None:
    # 2965 made, 365 of them while setting: 2600 are left, and 4004 were booked as rejected: good would be -1404.
    row = only(shift_rows(summed({"cause": "BUR", "rejected": 4004}), BOOK))
    assert (row["pieces"], row["setup_pieces"], row["rejected"]) == (2965, 365, 4004)
    assert all(pd.isna(row[name]) for name in ("good", "quality", "oee_index"))
    assert row["availability"] == pytest.approx(3000 / 3600)


def test_more_released_than_set_leaves_setting_and_good_pieces_empty() -> None:
    # 365 setting pieces, 400 released: -35 would be left, and 2600 + 400 = 3000 of 2965 would be good.
    row = only(shift_rows(summed({"setup": 1, "released": 400}), BOOK))
    assert row["pieces"] == 2965
    assert all(pd.isna(row[name]) for name in ("setup_pieces", "good", "quality", "oee_index"))


def test_as_many_rejected_as_made_is_none_good() -> None:
    row = only(shift_rows(summed({"cause": "BUR", "rejected": 2600}), BOOK))
    assert (row["good"], row["quality"]) == (0, 0)


def test_strokes_and_time_of_two_parts_a_stroke_are_in_one_row_and_empty_in_the_other() -> None:
    right = facts("pieces", {"part_no": "N1", "pieces": 10}, {"part_no": "N2", "pieces": 12})
    table = totals(TIME, STROKES, right, facts("rejects"), SHIFT).set_index("part_no")
    assert table["pieces"].to_dict() == {"N1": 10, "N2": 12}
    shown = shift_rows(table.reset_index(), BOOK).set_index("part_no")
    needs_time = [*(f"{name}_s" for name in ("planned", "running", "stopped", "unresolved", "setup", "extra_run")),
                  "strokes", "setup_strokes", "strokes_without_strip", "parts_per_planned_hour",
                  "parts_per_running_hour", "availability", "effectiveness", "oee_index"]  # fmt: skip
    assert shown.loc["N2", needs_time].isna().all()
    assert shown.loc["N1", needs_time].notna().all()
    assert (shown.loc["N1", "strokes"], shown["strokes"].sum(), shown["running_s"].sum()) == (3000, 3000, 3000)
    assert shown.loc["N2", ["setup_pieces", "rejected", "good", "quality"]].tolist() == [0, 0, 12, 1]
    by_hour = hour_rows(totals(TIME, STROKES, right, facts("rejects"), HOUR)).set_index("part_no")
    assert by_hour.loc["N2", ["running_s", "unresolved_s", "strokes"]].isna().all()
    assert by_hour.loc["N2", ["pieces", "rejected", "good"]].tolist() == [12, 0, 12]


def test_no_rate_is_given_for_pieces_whose_time_stands_with_another_part() -> None:
    # Both outs run for 30 min, then N1 is blanked off: N2 makes 3600 pieces, of which 1800 have their time with N1.
    half = 1800 * SECOND
    first, then = (
        {"from_us": START_US, "to_us": START_US + half},
        {"from_us": START_US + half, "to_us": START_US + 2 * half},
    )
    time = facts("time", *({"part_no": part, "planned_us": half, "running_us": half} for part in ("N1", "N2")))
    strokes = facts("strokes", {"part_no": "N1", "strokes": 1800, "fed": 1800, **first},
                    {"part_no": "N2", "strokes": 1800, "fed": 1800, **then})  # fmt: skip
    made = facts("pieces", *({"part_no": part, "pieces": 1800, **span}
                             for part, span in (("N1", first), ("N2", first), ("N2", then))))  # fmt: skip
    shown = shift_rows(totals(time, strokes, made, facts("rejects"), SHIFT), BOOK).set_index("part_no")
    assert shown.loc["N2", ["strokes", "pieces", "running_s", "availability", "quality"]].tolist() == [
        1800,
        3600,
        1800,
        1,
        1,
    ]
    rates = ["parts_per_planned_hour", "parts_per_running_hour", "effectiveness", "oee_index"]
    assert shown.loc["N2", rates].isna().all()
    # 1800 pieces in 1800 s are 3600 an hour; the die is rated at 80 a minute, 2400 pieces.
    assert shown.loc["N1", rates].tolist() == pytest.approx([3600, 3600, 0.75, 0.75])


def test_faster_than_rated_leaves_effectiveness_empty() -> None:
    # 80 a minute are 4000 pieces in 3000 s of running; 4001 were made, so the rated speed is too low.
    for made, known in ((4000, True), (4001, False)):
        row = only(shift_rows(totals(TIME, STROKES, facts("pieces", {"pieces": made}), facts("rejects"), SHIFT), BOOK))
        assert pd.notna(row["effectiveness"]) == pd.notna(row["oee_index"]) == known
        assert pd.notna(row["availability"])


def test_a_row_of_standing_time_alone_has_0_strokes_and_not_none() -> None:
    row = only(totals(TIME, facts("strokes"), facts("pieces"), facts("rejects"), SHIFT))
    assert (row["strokes"], row["setup_strokes"], row["running_us"]) == (0, 0, 3000 * SECOND)


def test_ratios_of_nothing_are_not_known_and_never_0() -> None:
    still = facts("time", {"planned_us": 600 * SECOND, "stopped_us": 600 * SECOND, "die_id": ""})
    row = only(shift_rows(totals(still, facts("strokes"), facts("pieces"), facts("rejects"), SHIFT), BOOK))
    assert row["availability"] == 0
    assert all(pd.isna(row[name]) for name in ("parts_per_running_hour", "effectiveness", "quality", "oee_index"))


def test_two_outs_of_one_part_double_the_rated_pieces() -> None:
    two_out = book(dies=[{"die_id": "D1", "pitch_mm": 30.0, "parts_per_stroke": 2, "rated_spm": 80.0}])
    assert only(shift_rows(summed(), two_out))["effectiveness"] == pytest.approx(2965 / 8000)


def test_hours_sum_to_what_the_shift_sums_to() -> None:
    parts = [{"hour_us": START_US, "strokes": 7}, {"hour_us": START_US + 3600 * SECOND, "strokes": 5}]
    table = totals(facts("time"), facts("strokes", *parts), facts("pieces"), facts("rejects"), HOUR)
    shown = hour_rows(table)
    assert shown["hour_start"].tolist() == [START_US, START_US + 3600 * SECOND]
    assert shown["strokes"].tolist() == [7, 5]


def test_no_facts_give_no_rows() -> None:
    table = totals(facts("time"), facts("strokes"), facts("pieces"), facts("rejects"), SHIFT)
    assert shift_rows(table, BOOK).empty
    assert hour_rows(totals(facts("time"), facts("strokes"), facts("pieces"), facts("rejects"), HOUR)).empty
