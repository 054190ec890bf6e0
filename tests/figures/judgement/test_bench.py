"""What the bench shows of a die and cause, against small cases worked out by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from monitor.figures.judgement.bench import Case, PlantLook, case, certificates, headlines, lines_of, stations
from monitor.reckoning.statistics.intervals import wilson
from shared.factors import Level
from tests.figures.bench_given import HOUR, check, curve, named, seen, steady, suspect
from tests.figures.given import START_US


def test_a_coil_is_the_sum_of_its_inspections_with_the_interval_of_its_share() -> None:
    shown = case(seen([check(0, "C1", "L1", 400, 3), check(1, "C1", "L1", 600, 5), check(2, "C2", "L1", 500, 0)]),
                 "D1", "BUR")  # fmt: skip
    first, second = shown.coils.to_dict("records")
    assert (first["coil_id"], first["inspected"], first["rejected"]) == ("C1", 1000, 8)
    assert first["rate"] == pytest.approx(0.008)
    low, high = wilson(8, 1000)
    assert (first["rate_low"], first["rate_high"]) == (pytest.approx(float(low)), pytest.approx(float(high)))
    assert (second["coil_id"], second["rate"]) == ("C2", 0.0)
    assert (shown.inspected, shown.rejected) == (1500, 8)


def test_a_coil_that_comes_back_on_another_press_is_a_point_of_its_own() -> None:
    rows = [check(0, "C1", "L1", 100, 1), check(1, "C2", "L1", 100, 1),
            check(2, "C1", "L1", 100, 1, press_id="P2", mounting_id="C1@P2")]  # fmt: skip
    assert case(seen(rows), "D1", "BUR").coils["coil_id"].tolist() == ["C1", "C2", "C1"]


def test_limits_are_drawn_from_the_coils_within_them() -> None:
    rows = steady(8)
    for row in rows[16:20]:
        row["found_BUR"] = 80.0
    coils = case(seen(rows), "D1", "BUR").coils
    assert coils["outside"].tolist() == [number == 4 for number in range(8)]
    assert coils["usual"].unique() == pytest.approx([0.01])
    sigma = np.sqrt(0.01 * 0.99 / 4000)
    assert coils["limit_high"].unique() == pytest.approx([0.01 + 3 * sigma])


def test_a_jump_is_found_between_the_inspections_it_lies_between_and_the_watch_calls_after_it() -> None:
    rows = steady(8)
    for row in rows[20:]:
        row["found_BUR"] = 45.0
    shown = case(seen(rows), "D1", "BUR")
    (change,) = shown.changes.to_dict("records")
    assert (change["before"], change["after"]) == (pytest.approx(0.01), pytest.approx(0.045))
    assert change["time_us"] == rows[19]["to_us"]
    assert change["place_low"] <= change["place"] <= change["place_high"]
    assert shown.alarms["time_us"].min() > change["time_us"]
    assert "C5" in shown.alarms["coil_id"].tolist()


def test_a_steady_rate_has_no_change_and_no_alarm() -> None:
    shown = case(seen(steady(8)), "D1", "BUR")
    assert shown.changes.empty
    assert shown.alarms.empty


def test_without_a_reject_there_is_nothing_to_watch_and_one_inspection_is_enough_to_draw() -> None:
    for rows in (steady(3, burrs=0), [check(0, "C1", "L1", 5, 0)], [check(0, "", "", 5, 5)]):
        shown = case(seen(rows), "D1", "BUR")
        assert len(shown.coils) == len({row["mounting_id"] for row in rows})
        assert shown.changes.empty
    assert case(seen(steady(2)), "D1", "never found").rejected == 0


def test_wear_alone_gives_the_rate_of_all_pieces_at_that_wear_and_nothing_without_a_history() -> None:
    rows = steady(4)
    for number, row in enumerate(rows):
        row["strokes_since_sharpening"] = np.nan if number < 4 else 1000.0 if number < 12 else 50_000.0
        row["found_BUR"] = 40.0 if number >= 12 else 10.0
    shown = case(seen(rows), "D1", "BUR")
    assert np.isnan(shown.coils["wear_rate"].iloc[0])
    assert shown.coils["wear_rate"].iloc[1:].tolist() == pytest.approx([0.01, 0.01, 0.04])
    assert shown.rows["worn"].iloc[-1] == 50_000


def test_sharpenings_of_stations_that_can_make_the_cause_are_marked_where_they_fell() -> None:
    def ground(hours: float, station: int | None, die: str = "D1", work: str = "sharpen") -> dict[str, Any]:
        time = START_US + int(hours * HOUR)
        return {"die_id": die, "time": time, "work": work, "station": station, "removed_mm": 0.1}

    services = [ground(8, 1), ground(9.0, 3), ground(10, None), ground(11, 1, "D2"), ground(12, 1, work="adjust"),
                ground(900, 1)]  # fmt: skip
    marks = case(seen(steady(4), services=services), "D1", "BUR").marks
    assert marks["kind"].tolist() == ["set", "sharpened", "sharpened"]
    # Coil 2 begins with the eighth hour and ends with the twelfth.
    assert marks["place"].tolist() == pytest.approx([-0.5, 1.5, 2.0])


def test_the_strongest_line_of_every_die_and_cause_leads_the_list() -> None:
    rows = [check(0, "C1", "L1", 100, 2, found_CRK=9.0), check(1, "C2", "L2", 100, 3, found_CRK=0.0)]
    lines = [
        suspect("CRK", "clear", named("shift", "early")),
        suspect("BUR", "acts", named("lot", "L2"), 2.0),
        suspect("BUR", "clear", named("press", "P1")),
        suspect("BUR", "tied", curve("wear", Level("sharpening_rising")), 2.0),
    ]
    look = seen(rows, lines)
    table = headlines(
        PlantLook(**(vars(look) | {"rows": {**look.rows, "D9": pd.DataFrame([check(0, "C9", "L9", 50, 0)])}}))
    )
    assert table[["die_id", "cause"]].to_numpy().tolist() == [["D1", "BUR"], ["D1", "CRK"], ["D9", ""]]
    first = table.iloc[0]
    assert (first["verdict"], first["line"], first["lines"], first["rejected"]) == ("acts", lines[1], 2, 5)
    assert [line.verdict for line in lines_of(look, "D1", "BUR")] == ["acts", "tied", "clear"]


def test_certificate_values_stand_by_coil_and_repeats_of_one_are_left_out() -> None:
    rows = [
        check(n, f"C{n}", "L1", 200, n, cert_yield_mpa=200.0 + n, cert_yield_certificate=200.0 + n,
              cert_thickness_own=np.nan if n == 1 else 1.5)
        for n in range(3)
    ]  # fmt: skip
    table = certificates(case(seen(rows), "D1", "BUR"))
    assert table.groupby(["property", "source"]).size().to_dict() == {("yield_mpa", ""): 3, ("thickness", "own"): 2}
    last = table[table["property"] == "yield_mpa"].iloc[-1]
    assert (last["coil_id"], last["value"], last["rate"]) == ("C2", 202.0, 0.01)
    assert certificates(case(seen(steady(2)), "D1", "BUR")).empty


def test_stations_are_told_in_order_with_which_to_open_first() -> None:
    service = pd.DataFrame(
        {"die_id": ["D1", "D2"], "station": pd.array([4, 1], dtype="Int64"), "strokes_since_sharpening": [900, 1]}
    )
    table = stations(seen([check(0, "C1", "L1", 9, 0)]), "D1", "BUR", service)
    assert table["station"].tolist() == [1, 2, 3, 4]
    assert table["look"].tolist() == [1, 0, 0, 2]
    assert table["strokes_since_sharpening"].fillna(-1).tolist() == [-1, -1, -1, 900]
    assert stations(seen([check(0, "C1", "L1", 9, 0)]), "D7", "BUR", service).empty


def test_a_die_nobody_looked_at_has_no_case() -> None:
    with pytest.raises(KeyError):
        case(seen(steady(1)), "D7", "BUR")


def test_a_case_keeps_every_piece_it_was_given() -> None:
    rows = steady(3)
    rows[5]["out"] = 2
    shown: Case = case(seen(rows), "D1", "BUR")
    assert shown.coils[["inspected", "rejected"]].sum().tolist() == [12_000, 120]
    assert np.all(np.diff(shown.rows["from_us"]) >= 0)
