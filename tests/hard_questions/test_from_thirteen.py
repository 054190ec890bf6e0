"""Twenty questions that practitioners ask, and what must come out: each a plant of a few rows, loaded as files."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from monitor.enter.holds import place
from monitor.figures import figure
from monitor.figures.genealogy.holds import held_pieces
from monitor.figures.genealogy.holds_in_force import BOXED, MOUNTED, NEXT, SHIPPED, hold_places
from monitor.figures.genealogy.search import trace_of
from monitor.figures.material.unscanned import missing_scans
from tests.hard_questions.asked import MIDNIGHT_US, SATURDAY, THURSDAY, inside
from tests.invented.tiny import PLAIN, SHIFTS, at


def test_13_the_10_00_check_is_bad_how_far_back_to_sort(plants: Any) -> None:
    plant = plants(stations=4)
    plant.coil("C")
    plant.set_die(at("08:00"))
    plant.change(at("08:00"), "mount", "C")
    plant.run(at("08:00"), at("10:00"))
    plant.look("I1", at("09:00"), "sample", 5, 0)
    plant.look("I2", at("10:00"), "sample", 5, 1)
    plant.box("T1", at("08:30"), at("09:20"))
    plant.box("T2", at("09:20"), at("09:50"))
    plant.box("T3", at("09:50"), "")
    plant.box("OLD", at("08:00"), at("08:30"))
    plant.add("repacks", time=at("09:55"), from_container="T2", to_container="WASHED", quantity=1800)
    plant.box("WASHED", at("09:55"), at("09:55"))
    plant.add("shipments", shipment_id="S", container_id="T1", shipped_at=at("09:58"))
    plant.load()
    (row,) = figure(plant.ledger, "exposure").to_dict("records")
    assert (row["press_id"], row["die_id"], row["cause"], row["characteristic"]) == ("P", "D", "BUR", "")
    assert (row["last_good_at"], row["found_at"]) == ("2026-11-02T09:00:00+00:00", "2026-11-02T10:00:00+00:00")
    assert (row["strokes"], row["pieces"], row["in_die"]) == (3600, 3600, 3)
    assert row["containers"] == ("T1", "T2", "T3", "WASHED")
    assert row["shipped"] == 1200


def test_13_a_clear_rise_gives_both_ranges(plants: Any) -> None:
    plant = plants()
    plant.coil("C")
    plant.set_die(at("08:00"))
    plant.change(at("08:00"), "mount", "C")
    plant.run(at("08:00"), at("10:00"))
    bad = {"08:10": 0, "08:30": 1, "08:50": 1, "09:10": 1, "09:30": 20, "10:00": 22}
    for number, (clock, rejected) in enumerate(bad.items()):
        plant.look(f"I{number}", at(clock), "sample", 50, rejected)
    plant.load()
    (row,) = figure(plant.ledger, "exposure").to_dict("records")
    assert (row["last_good_at"], row["pieces"]) == ("2026-11-02T08:10:00+00:00", 110 * 60)
    assert (row["likely_since"], row["likely_pieces"]) == ("2026-11-02T09:10:00+00:00", 50 * 60)


def test_13_a_measured_characteristic_reaches_back_to_its_own_last_good_check(plants: Any) -> None:
    plant = plants()
    plant.coil("C")
    plant.add("characteristics", part_no="N", characteristic="height", lower=4.9, upper=5.1)
    plant.set_die(at("08:00"))
    plant.change(at("08:00"), "mount", "C")
    plant.run(at("08:00"), at("10:00"))
    for clock, value in (("08:20", 5.0), ("08:40", 5.05), ("09:40", 5.2)):
        plant.add(
            "measurements", part_no="N", characteristic="height", time=at(clock), press_id="P", piece=1, value=value
        )
    plant.load()
    (row,) = figure(plant.ledger, "exposure").to_dict("records")
    assert (row["cause"], row["characteristic"], row["pieces"]) == ("", "height", 3600)


def test_14_mondays_box_was_sorted_on_thursday(plants: Any) -> None:
    plant = plants(toml=SHIFTS)
    plant.coil("C")
    plant.set_die(at("06:00"))
    plant.change(at("06:00"), "mount", "C")
    plant.run(at("06:00"), at("07:00"))
    plant.run(at("06:00", THURSDAY), at("07:00", THURSDAY))
    plant.box("B", at("06:00"), at("07:00"))
    plant.look("I", at("09:00", THURSDAY), "full", 3600, 11, container_id="B")
    plant.load()
    shifts = figure(plant.ledger, "shifts").groupby("shift_date")["rejected"].sum()
    assert shifts["2026-11-02"] == 11
    assert shifts["2026-11-05"] == 0
    assert inside(plant, "B") == {"C": 3589}


def test_15_the_die_was_rebuilt_to_two_outs_in_may(plants: Any) -> None:
    plant = plants()
    april, june = dt.date(2026, 4, 7), dt.date(2026, 6, 9)
    plant.add("dies", die_id="D", pitch_mm=30, parts_per_stroke=2, rated_spm=200, valid_from="2026-05-01")
    plant.coil("C")
    plant.set_die(at("06:00", april))
    plant.change(at("06:00", april), "mount", "C")
    plant.run(at("06:00", april), at("06:10", april))
    plant.run(at("06:00", june), at("06:10", june))
    plant.load()
    pieces = figure(plant.ledger, "shifts").groupby("shift_date")["pieces"].sum()
    assert pieces["2026-04-07"] == 600
    assert pieces["2026-06-09"] == 1200


def test_15_the_shift_pattern_changed_in_june(plants: Any) -> None:
    shift = '[[shift]]\nname = "{name}"\nstart = "06:00"\nend = "{end}"\nvalid_from = 2026-{day}\n'
    toml = (
        PLAIN
        + shift.format(name="long", end="18:00", day="01-01")
        + shift.format(name="long", end="14:00", day="06-01")
    )
    plant = plants(toml=toml)
    april, june = dt.date(2026, 4, 7), dt.date(2026, 6, 9)
    plant.coil("C")
    plant.set_die(at("06:00", april))
    plant.change(at("06:00", april), "mount", "C")
    for day in (april, june):
        plant.run(at("06:00", day), at("18:00", day), every_s=60)
    plant.load()
    shifts = figure(plant.ledger, "shifts")
    planned = shifts[shifts["shift"] == "long"].groupby("shift_date")["planned_s"].sum() / 3600
    assert (planned["2026-04-07"], planned["2026-06-09"]) == (12, 8)
    assert shifts.loc[shifts["shift_date"] == "2026-06-09", "extra_run_s"].sum() == 4 * 3600


def test_16_somebody_forgot_to_scan_the_new_coil(plants: Any) -> None:
    plant = plants()
    # 2.4 kg of 0.24 kg a metre are 10 m, 333 progressions of 30 mm.
    plant.coil("C", weight_kg=2.4)
    plant.coil("FORGOTTEN")
    plant.set_die(at("06:00"))
    plant.change(at("06:00"), "mount", "C")
    plant.run(at("06:00"), at("06:10"))
    plant.box("B", at("06:00"), at("06:10"), 600)
    plant.load()
    coils = figure(plant.ledger, "coils").set_index("coil_id")
    assert coils.loc["C", "overrun_m"] == pytest.approx((600 - 333) * 0.03)
    assert (coils["remaining_kg"].dropna() >= 0).all()
    assert inside(plant, "B") == {"C": 333, "": 267}
    (asked,) = missing_scans(plant.ledger.snapshot())
    assert (asked.press_id, asked.coil_id, asked.strokes) == ("P", "C", 267)
    assert (
        5 * 60 < (asked.from_us - MIDNIGHT_US) / 1e6 - 6 * 3600 < (asked.by_us - MIDNIGHT_US) / 1e6 - 6 * 3600 < 6 * 60
    )
    plant.change(at("06:05"), "splice", "FORGOTTEN")
    plant.load()
    assert inside(plant, "B") == {"C": 300, "FORGOTTEN": 300}
    assert missing_scans(plant.ledger.snapshot()) == []


def test_17_the_customer_says_310_ppm_and_we_say_90(plants: Any) -> None:
    plant = plants()
    plant.coil("C")
    plant.set_die(at("06:00"))
    plant.change(at("06:00"), "mount", "C")
    plant.run(at("06:00"), at("06:10"))
    plant.box("B", at("06:00"), at("06:10"), 100_000)
    plant.add("shipments", shipment_id="S", container_id="B", shipped_at=at("12:00"), customer="K")
    for name, pieces, accepted, closed in (("K1", 9, "yes", ""), ("K2", 22, "open", ""), ("K3", 50, "no", at("20:00"))):
        plant.add("complaints", complaint_id=name, reported_at=at("18:00"), customer="K", part_no="N", container_id="B",
                  shipment_id="S", pieces=pieces, accepted=accepted, closed_at=closed)  # fmt: skip
    plant.load()
    week = figure(plant.ledger, "customer_week")
    (row,) = week[week["shipped"] > 0].to_dict("records")
    assert (row["shipped"], row["complaints"], row["disputed"]) == (100_000, 3, 22)
    assert row["ppm_theirs"] == pytest.approx(310)
    assert row["ppm_ours"] == pytest.approx(90)


def test_18_we_ran_through_lunch_and_on_saturday_morning(plants: Any) -> None:
    plant = plants(toml=SHIFTS)
    plant.coil("C")
    plant.set_die(at("06:00"))
    plant.change(at("06:00"), "mount", "C")
    plant.run(at("06:00"), at("14:00"), every_s=60)
    plant.run(at("06:00", SATURDAY), at("08:00", SATURDAY), every_s=60)
    plant.load()
    shifts = figure(plant.ledger, "shifts")
    early = shifts[(shifts["shift_date"] == "2026-11-02") & (shifts["shift"] == "early")]
    assert early["extra_run_s"].sum() == 1800
    assert early["planned_s"].sum() == early["running_s"].sum() == 8 * 3600
    assert shifts.loc[shifts["shift_date"] == "2026-11-07", "extra_run_s"].sum() == 2 * 3600
    assert (shifts["availability"].dropna() <= 1).all()
    assert shifts["planned_s"].tolist() == pytest.approx((shifts["running_s"] + shifts["stopped_s"]).tolist())


def test_19_one_standstill_of_48_min_coil_change_then_broken_punch(plants: Any) -> None:
    plant = plants(toml=SHIFTS)
    plant.coil("C")
    plant.add("reasons", reason="COIL", kind="material")
    plant.add("reasons", reason="PUNCH", kind="tooling")
    plant.set_die(at("12:00"))
    plant.change(at("12:00"), "mount", "C")
    plant.run(at("12:00"), at("13:30"))
    plant.run(at("14:18"), at("15:00"))
    plant.add("stops", press_id="P", start_at=at("13:30"), end_at=at("13:42"), reason="COIL")
    plant.add("stops", press_id="P", start_at=at("13:50"), end_at=at("14:18"), reason="PUNCH")
    plant.load()
    stops = figure(plant.ledger, "stops")
    stops = stops[stops["start_at"].between(at("13:30"), at("14:20"))]
    rows = list(zip(stops["shift"], stops["reason"], stops["seconds"] / 60, strict=True))
    assert rows == [("early", "COIL", 12), ("early", "no reason yet", 8), ("early", "PUNCH", 10), ("late", "PUNCH", 18)]
    assert stops["stop_id"].nunique() == 1


def test_20_a_heat_is_suspect_where_is_every_piece_and_every_coil(plants: Any) -> None:
    plant = plants()
    for coil, heat in (("C1", "H-2207"), ("C2", "H-1"), ("RACK1", "H-2207"), ("RACK2", "H-2207")):
        plant.coil(coil, heat=heat)
    plant.set_die(at("06:00"))
    plant.change(at("06:00"), "mount", "C1")
    plant.change(at("06:10"), "splice", "C2")
    plant.run(at("06:00"), at("06:20"))
    plant.box("B1", at("06:00"), at("06:05"), 300)
    plant.box("B2", at("06:05"), at("06:15"), 600)
    plant.box("B3", at("06:15"), at("06:20"), 300)
    plant.box("WASHED", at("07:00"), at("07:00"), 300)
    plant.add("repacks", time=at("07:00"), from_container="B1", to_container="WASHED", quantity=300)
    plant.add("shipments", shipment_id="S", container_id="WASHED", shipped_at=at("09:00"), customer="K")
    plant.load()
    found = trace_of(plant.ledger, heat="H-2207").table.set_index("container_id")
    assert found["pieces"].to_dict() == {"B1": 300, "B2": 300, "WASHED": 300}
    assert found["here"].to_dict() == {"B1": 0, "B2": 300, "WASHED": 300}
    assert found.loc["WASHED", ["shipment_id", "customer"]].tolist() == ["S", "K"]
    assert set(found["heat"]) == {"H-2207"}
    coils = held_pieces(plant.ledger, "heat", "H-2207", (None, None)).coils
    assert coils.set_index("coil_id")["state"].to_dict() == {"C1": "in store", "RACK1": "in store", "RACK2": "in store"}
    # A hold placed once shows where a coil may be mounted, at a container and at a shipment; here C2 is on the press.
    place(plant.ledger, "heat", "H-2207", "cracks")
    seen = {(place.kind, place.name) for place in hold_places(plant.ledger.snapshot())}
    assert seen == {(SHIPPED, "S"), (BOXED, "B2"), (NEXT, "C1"), (NEXT, "RACK1"), (NEXT, "RACK2")}
    plant.change(at("06:18"), "splice", "RACK1")
    plant.load()
    assert (MOUNTED, "RACK1") in {(place.kind, place.name) for place in hold_places(plant.ledger.snapshot())}


def test_a_plant_without_strokes_has_nothing_to_trace_and_nothing_to_sort(plants: Any) -> None:
    plant = plants()
    plant.load()
    assert len(figure(plant.ledger, "trace")) == len(figure(plant.ledger, "exposure")) == 0
