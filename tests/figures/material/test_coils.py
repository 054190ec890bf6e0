"""The coils table in metres, pieces and kilograms.

Coil C1: 40 mm x 1 mm of 7850 kg/m3 is 0.314 kg a metre, 314 kg are 1000 m.  Pitch 30 mm, a piece weighs 5 g.
"""

from __future__ import annotations

import pandas as pd
import pytest

from monitor.figures.material.coils import coil_rows
from monitor.figures.strip.mounting_rows import by_press, kg_per_m, mountings, run_out, with_material, with_start
from monitor.plant.book import Book
from tests.figures.given import SECOND, START_US, book, facts

STEEL = {"coil_id": "C1", "lot": "L1", "heat": "H1", "supplier": "mill", "material": "DC01"}
SIZE = {"width_mm": 40.0, "thickness_mm": 1.0}
PARTS = (
    "good_kg",
    "skeleton_kg",
    "unfinished_kg",
    "setup_kg",
    "rejected_kg",
    "remaining_kg",
    "difference_kg",
)


def plant(weight_kg: float = 314.0) -> Book:
    """A book with coil C1 and part N1."""
    return book(
        parts=[{"part_no": "N1", "net_weight_g": 5.0}],
        materials=[{"material": "DC01", "density_kg_m3": 7850.0}],
        coils=[{**STEEL, **SIZE, "weight_kg": weight_kg}],
    )


def ran(mounting_id: str, fed: int, finished: int, coil_id: str = "C1", **more: object) -> dict[str, object]:
    """Strip of a mounting that ran through the die."""
    return {
        "mounting_id": mounting_id,
        "coil_id": coil_id,
        "fed": fed,
        "finished": finished,
        "pitch_mm": 30.0,
        **more,
        **{name: more.get(name) for name in ("mounted_us", "removed_us", "start_weighed_kg", "end_weighed_kg")},
    }


def noted(mounting_id: str, at_s: int, coil_id: str = "C1", **more: object) -> dict[str, object]:
    """What was noted when a coil was mounted."""
    return ran(mounting_id, 0, 0, coil_id, mounted_us=START_US + at_s * SECOND, **more) | {"pitch_mm": None}


def made(
    mounts: list[dict[str, object]],
    pieces: list[dict[str, object]],
    rejects: list[dict[str, object]] | None = None,
    of: Book | None = None,
) -> pd.DataFrame:
    """The coils table of these facts."""
    of = of or plant()
    table = with_start(with_material(mountings(by_press(facts("mounts", *mounts))), of, {}))
    return coil_rows(table, by_press(facts("pieces", *pieces)), by_press(facts("rejects", *(rejects or []))), of)


def closes(row: pd.Series) -> bool:
    """Tell whether what the mounting began with is accounted for."""
    return bool(row["start_kg"] == pytest.approx(sum(row[name] for name in PARTS)))


MOUNTED = noted("M1", 0)
RUN = ran("M1", 10_000, 9_997)
MADE = [
    {"mounting_id": "M1", "setup": 1, "pieces": 97},
    {"mounting_id": "M1", "pieces": 9_900, "entry_from": 97},
]


def test_10_000_strokes_at_30_mm_use_300_m_and_94_2_kg() -> None:
    row = made([MOUNTED, RUN], MADE).iloc[0]
    assert (row["coil_id"], row["lot"], row["die_id"], row["strokes"]) == ("C1", "L1", ("D1",), 10_000)
    assert row["used_m"] == pytest.approx(300)
    assert row["used_kg"] == pytest.approx(94.2)
    assert row["mounted_at"] == START_US
    assert pd.isna(row["removed_at"])


def test_waterfall_of_that_mounting_in_kilograms() -> None:
    rejects = [{"mounting_id": "M1", "cause": "BUR", "rejected": 100}]
    row = made([MOUNTED, RUN], MADE, rejects).iloc[0]
    # 9 900 - 100 good pieces of 5 g; 3 unfinished progressions of 0.03 m; skeleton is what is left of the 94.2 kg.
    assert row["good_kg"] == pytest.approx(49.0)
    assert row["setup_kg"] == pytest.approx(0.485)
    assert row["rejected_kg"] == pytest.approx(0.5)
    assert row["unfinished_kg"] == pytest.approx(3 * 0.03 * 0.314)
    assert row["skeleton_kg"] == pytest.approx(94.2 - 0.02826 - 49.985)
    assert row["remaining_kg"] == pytest.approx(314 - 94.2)
    assert row["difference_kg"] == pytest.approx(0)
    assert row["coil_yield"] == pytest.approx(49.0 / 94.2)
    assert closes(row)


def test_counts_of_that_mounting() -> None:
    rejects = [
        {"mounting_id": "M1", "cause": "BUR", "rejected": 100, "reworked": 20},
        {"mounting_id": "M1", "setup": 1, "released": 40},
        {"mounting_id": "M1", "setup": 1, "cause": "BUR", "rejected": 9},
    ]
    row = made([MOUNTED, RUN], MADE, rejects).iloc[0]
    assert (row["pieces"], row["unfinished"], row["setup_pieces"], row["rejected"]) == (9_997, 3, 57, 100)
    # 9 997 - 57 - 100 - 20; reworked pieces weigh what good ones weigh.
    assert row["good"] == 9_820
    assert row["good_kg"] == pytest.approx(9_840 * 0.005)
    assert closes(row)


def test_weighing_at_the_end_shows_a_difference_with_its_sign() -> None:
    heavy = made([MOUNTED, RUN | {"end_weighed_kg": 215.0}], MADE).iloc[0]
    assert heavy["difference_kg"] == pytest.approx(314 - 94.2 - 215)
    light = made([MOUNTED, RUN | {"end_weighed_kg": 225.0}], MADE).iloc[0]
    assert light["difference_kg"] == pytest.approx(314 - 94.2 - 225)
    assert closes(heavy)
    assert closes(light)


def test_strip_cut_away_is_used_and_unfinished() -> None:
    row = made([MOUNTED | {"lost_mm": 2000.0}, RUN], MADE).iloc[0]
    assert row["used_m"] == pytest.approx(302)
    assert row["unfinished_kg"] == pytest.approx((0.09 + 2) * 0.314)
    assert closes(row)


def test_coil_that_comes_back_begins_with_what_was_left_on_whatever_press() -> None:
    again = {"press_id": "P2"}
    table = made(
        [MOUNTED, RUN, noted("M2", 9000, **again), ran("M2", 1_000, 997, **again)],
        [*MADE, {"mounting_id": "M2", "pieces": 997, **again}],
    )
    assert table["start_kg"].tolist() == pytest.approx([314, 314 - 94.2])
    assert table["remaining_kg"].tolist() == pytest.approx([219.8, 219.8 - 9.42])
    assert table["press_id"].tolist() == ["P1", "P2"]


def test_weighing_at_the_beginning_goes_before_what_was_reckoned_to_be_left() -> None:
    table = made(
        [MOUNTED, RUN, noted("M2", 9000) | {"start_weighed_kg": 210.0}, ran("M2", 1_000, 997)],
        [*MADE, {"mounting_id": "M2", "pieces": 997}],
    )
    assert table["start_kg"].tolist() == pytest.approx([314, 210])


def test_days_of_one_mounting_are_one_row_and_dies_are_listed_in_order() -> None:
    other = ran("M1", 50, 47, die_id="D2", pitch_mm=20.0)
    row = made([MOUNTED, RUN, ran("M1", 500, 500), other], MADE).iloc[0]
    assert (row["strokes"], row["die_id"]) == (10_550, ("D1", "D2"))
    assert row["used_m"] == pytest.approx(300 + 15 + 1)


def test_each_die_parts_off_progressions_of_its_own_pitch() -> None:
    rows = [MOUNTED, ran("M1", 1_000, 997), ran("M1", 500, 496, die_id="D2", pitch_mm=20.0)]
    pieces = [
        {"mounting_id": "M1", "pieces": 997},
        {"mounting_id": "M1", "pieces": 496, "die_id": "D2", "entry_from": 1_000},
    ]
    row = made(rows, pieces).iloc[0]
    assert row["used_kg"] == pytest.approx((30 + 10) * 0.314)
    # 3 progressions of 30 mm stay in the first die, 4 of 20 mm in the second.
    assert row["unfinished_kg"] == pytest.approx((3 * 0.03 + 4 * 0.02) * 0.314)
    # 997 pieces of 30 mm and 496 of 20 mm of strip, each 5 g.
    assert row["skeleton_kg"] == pytest.approx((997 * 0.03 + 496 * 0.02) * 0.314 - 1_493 * 0.005)
    assert closes(row)


def test_what_two_dies_fed_beyond_the_coil_is_no_more_than_they_fed() -> None:
    # 31.4 kg are 100 m; 2 000 strokes of 30 mm and 4 000 of 20 mm are 140 m, 6 000 of 23.33 mm each.
    rows = [MOUNTED, ran("M1", 2_000, 1_997), ran("M1", 4_000, 3_997, die_id="D2", pitch_mm=20.0)]
    table = made(rows, [{"mounting_id": "M1", "pieces": 5_994}], of=plant(31.4))
    # 100 m are 4 285 of these, 99.98 m.
    assert table["strokes"].tolist() == [4_285, 1_715]
    assert table["used_m"].tolist() == pytest.approx([4_285 * 0.07 / 3, 1_715 * 0.07 / 3])
    assert table["unfinished_kg"].tolist() == pytest.approx([0, 6 * 0.07 / 3 * 0.314], abs=1e-9)
    assert closes(table.iloc[0])


def test_strip_used_within_the_tolerance_of_the_coil_is_its_own() -> None:
    # 31.4 kg are 100 m; 104 m are within 5 %.
    row = made([MOUNTED, ran("M1", 3_467, 3_467)], [{"mounting_id": "M1", "pieces": 3_467}], of=plant(31.4)).iloc[0]
    assert (row["overrun_m"], row["remaining_kg"]) == (0, 0)
    assert row["difference_kg"] == pytest.approx(31.4 - 104.01 * 0.314)
    assert closes(row)


def test_strip_used_far_beyond_the_coil_is_of_no_known_coil() -> None:
    # 100 m are 3 333 progressions; 4 000 strokes are 120 m, 667 progressions and 20.01 m too many.
    pieces = [
        {"mounting_id": "M1", "pieces": 3_000, "entry_from": 0},
        {"mounting_id": "M1", "pieces": 997, "entry_from": 3_000},
    ]
    table = made([MOUNTED, ran("M1", 4_000, 3_997)], pieces, of=plant(31.4))
    known, unknown = table.iloc[0], table.iloc[1]
    assert (known["coil_id"], known["strokes"], known["pieces"]) == ("C1", 3_333, 3_333)
    assert known["overrun_m"] == pytest.approx(20.01)
    assert known["remaining_kg"] == 0
    assert closes(known)
    assert (unknown["coil_id"], unknown["lot"], unknown["strokes"], unknown["pieces"]) == ("", "", 667, 664)
    assert unknown["used_m"] == pytest.approx(20.01)
    assert pd.isna(unknown["start_kg"])
    assert table["unfinished"].sum() == 3


def test_run_out_is_empty_where_the_length_of_the_coil_is_not_known() -> None:
    table = with_start(with_material(mountings(facts("mounts", MOUNTED, RUN)), book(), {}))
    assert run_out(table).empty


def test_weights_are_not_known_without_the_coil_or_its_density() -> None:
    row = made([MOUNTED, RUN], MADE, of=book(parts=[{"part_no": "N1", "net_weight_g": 5.0}])).iloc[0]
    assert all(pd.isna(row[name]) for name in ("start_kg", "used_kg", "skeleton_kg", "remaining_kg", "difference_kg"))
    assert row["good_kg"] == pytest.approx(49.5)
    assert (row["strokes"], row["pieces"]) == (10_000, 9_997)


def test_weights_of_pieces_are_not_known_where_the_book_does_not_have_the_part() -> None:
    row = made([MOUNTED, RUN], [piece | {"part_no": "N9"} for piece in MADE]).iloc[0]
    assert all(pd.isna(row[name]) for name in ("good_kg", "skeleton_kg", "setup_kg", "coil_yield"))
    assert row["pieces"] == 9_997
    assert row["remaining_kg"] == pytest.approx(219.8)
    assert row["difference_kg"] == pytest.approx(0)


def test_mounting_that_has_made_nothing_yet_has_0_pieces_and_all_its_weight() -> None:
    row = made([MOUNTED], []).iloc[0]
    assert (row["strokes"], row["pieces"], row["good"], row["good_kg"]) == (0, 0, 0, 0)
    assert row["remaining_kg"] == 314
    assert pd.isna(row["coil_yield"])


def test_strip_of_no_known_coil_is_a_row_for_each_press() -> None:
    unknown = [ran("", 100, 97, ""), ran("", 50, 47, "", press_id="P2")]
    pieces = [{"mounting_id": "", "pieces": 97}, {"mounting_id": "", "pieces": 47, "press_id": "P2"}]
    table = made(unknown, pieces)
    assert table[["press_id", "coil_id", "strokes", "pieces"]].to_numpy().tolist() == [
        ["P1", "", 100, 97],
        ["P2", "", 50, 47],
    ]


def test_reel_is_known_by_what_the_coils_on_it_have_in_common() -> None:
    reel = {"lot": "L1", "material": "DC01", "width_mm": 40.0, "thickness_mm": 1.0}
    mounts = [noted("M1", 0, "R1"), ran("M1", 100, 97, "R1")]
    table = with_material(mountings(facts("mounts", *mounts)), plant(), {"R1": reel})
    assert table.loc[0, ["lot", "heat"]].tolist() == ["L1", ""]
    assert table.loc[0, "kg_per_m"] == pytest.approx(0.314)


def test_weight_of_a_metre_of_0_5_by_22_mm_brass_of_8500_is_93_5_g() -> None:
    strip = {"material": "CuZn37", "width_mm": 22.0, "thickness_mm": 0.5}
    assert kg_per_m(strip, {"CuZn37": 8500.0}) == pytest.approx(0.0935)


def test_no_mountings_give_no_rows() -> None:
    assert made([], []).empty
