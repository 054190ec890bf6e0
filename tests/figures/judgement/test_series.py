"""What each inspected piece was made of and on, through the strip's lag, worked out by hand on plants of a few rows.

Unless a test says otherwise the press makes one stroke a second from 06:00, and a stroke feeds 30 mm.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from monitor.figures.judgement.look import evidence
from monitor.figures.judgement.series import SETTLED_STROKES, WEAR
from tests.invented.tiny import SHIFTS, Tiny, at

Plants = Callable[..., Tiny]


@pytest.fixture
def plants(tmp_path: Path) -> Iterator[Plants]:
    made: list[Tiny] = []

    def make(**more: object) -> Tiny:
        made.append(Tiny(tmp_path, **more))  # type: ignore[arg-type]
        return made[-1]

    yield make
    for plant in made:
        plant.ledger.close()


def series(plant: Tiny, die: str = "D") -> pd.DataFrame:
    """Load what was written, and the series of a die in the order its pieces were made."""
    plant.load()
    rows, _ = evidence(plant.ledger.snapshot(), die)
    return rows.sort_values("from_us", ignore_index=True) if len(rows) else rows


def check(plant: Tiny, name: str, begin: str, end: str, rejected: int = 0, spm: int = 60, **more: object) -> None:
    """Every piece made between two moments looked at."""
    span = dt.datetime.fromisoformat(at(end)) - dt.datetime.fromisoformat(at(begin))
    made = {"made_from": at(begin), "made_to": at(end)}
    plant.look(name, at("17:00"), "full", round(span.total_seconds() * spm / 60), rejected, **made, **more)


def running(plant: Tiny, coil: str = "C1") -> Tiny:
    plant.coil(coil, lot="L1", heat="H1", weight_kg=480)
    plant.set_die(at("06:00"))
    plant.change(at("06:00"), "mount", coil)
    return plant


def test_pieces_just_after_a_splice_are_of_the_old_coil_until_the_joint_has_gone_through_the_die(
    plants: Plants,
) -> None:
    plant = running(plants(stations=16), "OLD")
    plant.coil("NEW", lot="L2", heat="H2")
    plant.change(at("07:00"), "splice", "NEW")
    plant.run(at("06:00"), at("08:00"))
    check(plant, "I1", "07:00", "07:00:40", 4)
    rows = series(plant)
    # 16 stations: the joint, at station 1 with the first new stroke, leaves the die 15 strokes later.
    told = rows.groupby("coil_id")[["inspected", "found_BUR"]].sum()
    assert told.loc["OLD", "inspected"] == 15
    assert told.loc["NEW", "inspected"] == 25
    assert told["found_BUR"].sum() == 4
    facts = rows[["coil_id", "lot", "heat", "supplier"]].drop_duplicates().to_numpy().tolist()
    assert sorted(facts) == [["NEW", "L2", "H2", "S"], ["OLD", "L1", "H1", "S"]]
    assert set(rows["inspection_id"]) == {"I1"}


def test_the_place_in_the_coil_is_counted_from_its_ends(plants: Plants) -> None:
    plant = running(plants())
    plant.run(at("06:00"), at("08:00"))
    check(plant, "I1", "06:30", "06:40")
    rows = series(plant)
    # 480 kg at 0.24 kg a metre are 2000 m; the middle piece is the 2100th, 63 m from the head.
    middle = np.average(rows["head_m"], weights=rows["inspected"])
    assert middle == pytest.approx(63, abs=0.1)
    assert (rows["head_m"] + rows["tail_m"]).to_numpy() == pytest.approx(2000)


def test_strokes_since_sharpening_begin_anew_at_each_station_and_are_not_known_before(plants: Plants) -> None:
    plant = running(plants(stations=4))
    plant.run(at("06:00"), at("10:00"))
    plant.add("die_service", time=at("07:00"), die_id="D", work="sharpen")
    plant.add("die_service", time=at("08:00"), die_id="D", work="replace", station=3)
    plant.add("die_service", time=at("08:30"), die_id="D", work="adjust", station=1)
    for name, begin, end in (("I1", "06:30", "06:40"), ("I2", "07:30", "07:40"), ("I3", "09:00", "09:10")):
        check(plant, name, begin, end)
    rows = series(plant)
    own, others = f"{WEAR}_3", f"{WEAR}_1_2_4"
    assert {column for column in rows if str(column).startswith(WEAR)} == {own, others}
    by = rows.groupby("inspection_id")[[own, others]].mean()
    assert by.loc["I1"].isna().all()
    # From 07:00 to the middle of the pieces at 07:35; station 3 again from 08:00 to 09:05.
    assert by.loc["I2"].to_list() == pytest.approx([2100, 2100], abs=15)
    assert by.loc["I3"].to_list() == pytest.approx([3900, 7500], abs=15)


def test_edges_renewed_together_share_one_column(plants: Plants) -> None:
    plant = running(plants(stations=3))
    plant.run(at("06:00"), at("08:00"))
    plant.add("die_service", time=at("07:00"), die_id="D", work="sharpen")
    check(plant, "I1", "07:30", "07:40")
    rows = series(plant)
    assert [column for column in rows if str(column).startswith(WEAR)] == [WEAR]


def test_press_shift_setting_and_speed_are_those_the_pieces_were_made_in(plants: Plants) -> None:
    plant = running(plants(toml=SHIFTS))
    plant.add("presses", press_id="Q", rated_spm=200)
    plant.run(at("06:00"), at("09:00"))
    plant.change(at("09:00"), "remove", "C1")
    plant.add("die_changes", time=at("09:30"), press_id="P", event="pull", die_id="D")
    plant.set_die(at("13:00"), press="Q")
    plant.change(at("13:00"), "mount", "C1", press="Q")
    plant.run(at("13:00"), at("16:00"), press="Q", spm=90)
    check(plant, "I1", "08:00", "08:10")
    check(plant, "I2", "15:00", "15:10", spm=90, press_id="Q")
    rows = series(plant).groupby("inspection_id").first()
    assert rows["press_id"].to_dict() == {"I1": "P", "I2": "Q"}
    assert rows["shift"].to_dict() == {"I1": "early", "I2": "late"}
    assert rows["setup_id"].map(str).to_dict() == {"I1": "P set 2026-11-02T06:00", "I2": "Q set 2026-11-02T13:00"}
    assert rows["speed_spm"].to_list() == pytest.approx([60, 90], rel=0.01)
    assert rows.loc["I1", "strokes_since_set"] == pytest.approx(7200, abs=30)
    # An hour and a half at 90 strokes a minute from 13:00 would be 10 800; counting stops where a setting has settled.
    assert rows["strokes_since_set"].max() <= SETTLED_STROKES
    # The same strip went on: its place is counted on from what the first press had used.
    assert rows.loc["I2", "head_m"] > rows.loc["I1", "head_m"]


def test_a_tub_count_over_two_coils_speaks_only_of_what_its_pieces_have_in_common(plants: Plants) -> None:
    plant = running(plants())
    plant.coil("C2", lot="L2", heat="H1")
    plant.run(at("06:00"), at("09:00"))
    plant.add("die_service", time=at("06:10"), die_id="D", work="sharpen")
    plant.look("T1", at("06:30"), "tub", None, 3)
    plant.change(at("07:15"), "splice", "C2")
    plant.look("T2", at("07:30"), "tub", None, 5)
    plant.look("T3", at("08:00"), "tub", None, 2)
    by = series(plant).groupby("inspection_id")
    rows = by.first()
    assert by["found_BUR"].sum().to_dict() == {"T1": 3, "T2": 5, "T3": 2}
    assert rows.loc["T2", ["coil_id", "lot", "mounting_id"]].to_list() == ["", "", ""]
    assert rows.loc["T2", ["heat", "press_id"]].to_list() == ["H1", "P"]
    assert rows.loc[["T1", "T3"], "coil_id"].to_list() == ["C1", "C2"]
    # A tub holds all that was made since the last count: an hour of one stroke a second, and half an hour.
    assert by["inspected"].sum().loc[["T2", "T3"]].to_list() == pytest.approx([3600, 1800], abs=2)
    # The pieces of T2 were made from 06:30 to 07:30, 50 minutes after the sharpening in the mean.
    assert rows.loc["T2", WEAR] == pytest.approx(50 * 60, abs=5)
    assert np.isnan(rows.loc["T2", "head_m"])
    assert by.size().loc[["T2", "T3"]].to_list() == [1, 1]


def test_one_count_is_one_row_however_many_hours_and_outs_it_was_shared_over(plants: Plants) -> None:
    plant = running(plants())
    plant.run(at("06:00"), at("10:00"))
    check(plant, "I1", "06:30", "09:30", 7)
    rows = series(plant)
    assert rows[["inspection_id", "found_BUR", "inspected"]].to_numpy().tolist() == [["I1", 7, 10800]]
    assert rows["day"].item() == pytest.approx(rows[["from_us", "to_us"]].mean(axis=1).item() / 86_400e6, abs=1e-4)


def test_setting_pieces_do_not_speak(plants: Plants) -> None:
    plant = running(plants())
    plant.add("die_changes", time=at("06:20"), press_id="P", event="first_off", die_id="D")
    plant.run(at("06:00"), at("07:00"))
    check(plant, "I1", "06:10", "06:15", 2)
    check(plant, "I2", "06:40", "06:45", 1)
    assert set(series(plant)["inspection_id"]) == {"I2"}


def test_certificate_values_and_own_tests_stand_by_coil_where_they_differ(plants: Plants) -> None:
    plant = running(plants())
    plant.coil("C2", lot="L2")
    for row, value in zip(plant.rows["coils"], (205.0, 231.0), strict=True):
        row |= {"yield_mpa": value, "hardness_hv": 110}
    for position, value in ((1, 1.48), (5, 1.52)):
        plant.add("coil_tests", coil_id="C2", property="thickness", value=value, unit="mm", source="own",
                  position_m=position)  # fmt: skip
    plant.add("coil_tests", coil_id="C1", property="thickness", value=1.49, unit="mm", source="own", position_m=1)
    plant.change(at("07:00"), "splice", "C2")
    plant.run(at("06:00"), at("08:00"))
    check(plant, "I1", "06:30", "06:40")
    check(plant, "I2", "07:30", "07:40")
    rows = series(plant).groupby("coil_id").first()
    assert rows["cert_yield_mpa"].to_dict() == {"C1": 205.0, "C2": 231.0}
    # Two measurements of one coil are averaged; a hardness that is the same on every coil tells nothing.
    assert rows["cert_thickness_own"].to_dict() == {"C1": 1.49, "C2": pytest.approx(1.5)}
    assert "cert_hardness_hv" not in rows


def test_strip_beyond_the_coils_length_is_of_no_known_coil(plants: Plants) -> None:
    plant = plants()
    plant.coil("SHORT", weight_kg=14.4)
    plant.set_die(at("06:00"))
    plant.change(at("06:00"), "mount", "SHORT")
    plant.run(at("06:00"), at("08:00"))
    # 14.4 kg are 60 m, 2000 strokes: used up at 06:33.
    check(plant, "I1", "06:10", "06:20")
    check(plant, "I2", "07:30", "07:40")
    rows = series(plant).groupby("inspection_id").first()
    assert rows["coil_id"].to_dict() == {"I1": "SHORT", "I2": ""}
    assert rows["head_m"].isna().to_dict() == {"I1": False, "I2": True}


def test_a_die_nobody_looked_at_has_no_series(plants: Plants) -> None:
    plant = running(plants())
    plant.run(at("06:00"), at("07:00"))
    assert series(plant).empty


def test_a_tub_of_more_pieces_than_were_made_proves_nothing(plants: Plants) -> None:
    # 600 pieces were made and 900 are said to be rejected; the sort of the same pieces stands.
    plant = running(plants())
    plant.run(at("06:00"), at("06:10"))
    plant.look("TUB", at("06:10"), "tub", None, 900)
    check(plant, "I1", "06:00", "06:05", 3)
    assert set(series(plant)["inspection_id"]) == {"I1"}
