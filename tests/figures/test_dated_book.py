"""A row of the plant book holds from its first plant day on: what happened before is told by the row before it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest

from dashboards.ledger.service import LedgerService
from monitor.figures import figure
from monitor.figures.material.coil_ledger import unspent_coils
from monitor.report.view import view_of
from monitor.report.week import gather
from tests.invented.tiny import SHIFTS, Tiny, at

LATER = "2027-01-01"
TUESDAY = dt.date(2026, 11, 3)


@pytest.fixture
def tiny(tmp_path: Path) -> Iterator[Tiny]:
    """On Monday and on Tuesday 1800 strokes of one coil, weighed at the end; a box a day, sent on that day."""
    tiny = Tiny(tmp_path, SHIFTS)
    tiny.coil("C", weight_kg=100)
    tiny.set_die(at("06:00"))
    tiny.change(at("06:00"), "mount", "C")
    tiny.run(at("06:00"), at("06:30"))
    tiny.run(at("06:00", TUESDAY), at("06:30", TUESDAY))
    # 108 m of 30 x 1 mm at 8000 kg/m3 weigh 25.92 kg, so 74.08 kg of 100 are left.
    tiny.change(at("07:00", TUESDAY), "remove", "C", weight_kg=74.08)
    for name, day in (("B1", dt.date(2026, 11, 2)), ("B2", TUESDAY)):
        tiny.box(name, at("06:00", day), at("06:40", day), 1800)
        tiny.add("shipments", shipment_id=f"S{name}", container_id=name, shipped_at=at("12:00", day))
    return tiny


def one(table: pd.DataFrame) -> dict[str, object]:
    (row,) = table.to_dict("records")
    return dict(row)  # type: ignore[arg-type]


def test_a_weight_valid_later_leaves_good_kg_as_it_was(tiny: Tiny) -> None:
    tiny.add("parts", part_no="N", net_weight_g=8, customer="K", valid_from=LATER)
    tiny.load()
    # 3600 pieces of 10 g; by the row of 2027 it would be 28.8 kg.
    assert one(figure(tiny.ledger, "coils"))["good_kg"] == pytest.approx(36.0)


def test_each_piece_weighs_what_it_weighed_on_its_day(tiny: Tiny) -> None:
    tiny.add("parts", part_no="N", net_weight_g=8, customer="K", valid_from=TUESDAY.isoformat())
    tiny.load()
    # Monday 1800 x 10 g = 18 kg, Tuesday 1800 x 8 g = 14.4 kg.
    assert one(figure(tiny.ledger, "coils"))["good_kg"] == pytest.approx(32.4)


def test_a_density_valid_later_leaves_the_strip_as_it_was(tiny: Tiny) -> None:
    tiny.add("materials", material="steel", density_kg_m3=7000, valid_from=LATER)
    tiny.load()
    row = one(figure(tiny.ledger, "coil_ledger"))
    # 3600 x 30 mm = 108 m at 0.24 kg/m; by the row of 2027 it would be 22.68 kg and 3.24 kg would be missing.
    assert row["used_kg"] == pytest.approx(25.92)
    assert row["difference_kg"] == pytest.approx(0.0)
    assert row["finding"] == "explained"
    # 74.08 kg at 0.24 kg/m.
    assert row["left_m"] == pytest.approx(74.08 / 0.24)


def test_a_coil_never_mounted_has_the_density_of_the_day_it_came_in(tiny: Tiny) -> None:
    tiny.add("materials", material="steel", density_kg_m3=10_000, valid_from="2026-10-01")
    for name, received_at in (("OLD", "2026-09-30T12:00+00:00"), ("NEW", "2026-10-01T12:00+00:00")):
        tiny.add("coils", coil_id=name, lot="L", material="steel", width_mm=30, thickness_mm=1, weight_kg=60,
                 received_at=received_at)  # fmt: skip
    tiny.load()
    left = unspent_coils(tiny.ledger.snapshot()).set_index("coil_id")["left_m"]
    # 60 kg at 0.24 kg/m before October, at 0.30 kg/m from then on.
    assert left["OLD"] == pytest.approx(250)
    assert left["NEW"] == pytest.approx(200)


def test_a_route_valid_later_leaves_the_week_as_it_was(tiny: Tiny) -> None:
    tiny.die("E", 1)
    tiny.add("routes", part_no="N", step=2, die_id="E", valid_from=LATER)
    tiny.load()
    row = one(figure(tiny.ledger, "customer_week", from_="2026-11-02", to="2026-11-09"))
    # By the route of 2027 the pieces of D would not be finished, and none would have been made.
    assert (row["customer"], row["week"], row["made"], row["shipped"]) == ("K", "2026-W45", 3600, 3600)


def test_pieces_and_deliveries_are_those_of_the_customer_of_the_day(tiny: Tiny) -> None:
    tiny.add("parts", part_no="N", net_weight_g=10, customer="M", valid_from=TUESDAY.isoformat())
    tiny.add("parts", part_no="N", net_weight_g=10, customer="Z", valid_from=LATER)
    tiny.load()
    rows = figure(tiny.ledger, "customer_week").set_index("customer")
    assert rows[["made", "good", "shipped"]].T.to_dict("list") == {"K": [1800] * 3, "M": [1800] * 3}
    sent = figure(tiny.ledger, "trace").groupby("container_id")["customer"].unique()
    assert {name: list(some) for name, some in sent.items()} == {"B1": ["K"], "B2": ["M"]}


def test_limits_valid_later_leave_checks_and_capability_as_they_were(tiny: Tiny) -> None:
    tiny.add("characteristics", part_no="N", characteristic="d", lower=9.5, upper=10.5, unit="mm")
    tiny.add("characteristics", part_no="N", characteristic="d", lower=9.0, upper=9.9, unit="mm", valid_from=LATER)
    for hour, values in ((6, (9.9, 10.1)), (7, (10.0, 10.7))):
        for piece, value in enumerate(values, 1):
            tiny.add("measurements", time=at(f"{hour:02}:20"), press_id="P", part_no="N", characteristic="d",
                     piece=piece, value=value)  # fmt: skip
    tiny.load()
    exposed = one(figure(tiny.ledger, "exposure"))
    # 06:20 was good, 07:20 was not; by the limits of 2027 nothing ever was.
    assert (str(exposed["last_good_at"])[11:16], str(exposed["found_at"])[11:16]) == ("06:20", "07:20")
    # The middle of 9.9, 10.1, 10.0 and 10.7 is 10.175, nearest to 10.5: ppk = 0.325 / 3 sd, sd = 0.3593.
    assert one(figure(tiny.ledger, "capability"))["ppk"] == pytest.approx(0.325 / (3 * 0.35940), rel=1e-3)


def test_a_row_holds_from_the_start_of_its_plant_day(tiny: Tiny) -> None:
    """The plant day of Tuesday begins at 06:00, not at midnight UTC: what is sent at 03:00 is sent on Monday."""
    tiny.add("parts", part_no="N", net_weight_g=10, customer="M", valid_from=TUESDAY.isoformat())
    tiny.box("B3", at("06:31"), at("06:32"), 5)
    tiny.add("shipments", shipment_id="S3", container_id="B3", shipped_at=at("03:00", TUESDAY))
    tiny.load()
    rows = figure(tiny.ledger, "customer_week").set_index("customer")
    assert rows["shipped"].to_dict() == {"K": 1805, "M": 1800}


def test_names_are_those_of_the_day_asked_for(tiny: Tiny) -> None:
    tiny.add("reasons", reason="BRK", kind="press", name="breakdown")
    tiny.add("reasons", reason="BRK", kind="press", name="failure", valid_from=TUESDAY.isoformat())
    tiny.add("reasons", reason="BRK", kind="press", name="outage", valid_from=LATER)
    tiny.add("presses", press_id="P2", rated_spm=100, valid_from=LATER)
    tiny.load()
    reading = LedgerService(tiny.ledger.root).read()
    monday = dt.date(2026, 11, 2)
    assert reading.names("reasons", monday) == {"BRK": "breakdown"}
    assert reading.names("reasons") == {"BRK": "failure"}
    # A press that comes in 2027 is in no list yet.
    assert list(reading.names("presses")) == ["P"]
    assert list(reading.press_states()["press_id"]) == ["P"]


def test_rejects_are_told_to_whom_the_pieces_were_made_for(tiny: Tiny) -> None:
    tiny.add("parts", part_no="N", net_weight_g=10, customer="M", valid_from=TUESDAY.isoformat())
    tiny.look("I1", at("06:20"), "full", 100, 7)
    tiny.look("I2", at("06:20", TUESDAY), "full", 100, 3)
    tiny.load()
    week = gather(tiny.ledger.snapshot(), "2026-W45")
    told = {who: int(view_of(week, who).tables["rejects"]["rejected"].sum()) for who in ("K", "M")}
    assert told == {"K": 7, "M": 3}


def test_a_range_to_the_end_of_all_dates_is_one_without_an_end(tiny: Tiny) -> None:
    tiny.load()
    for name in ("customer_week", "service", "coil_ledger"):
        pd.testing.assert_frame_equal(figure(tiny.ledger, name, to="9999-12-31"), figure(tiny.ledger, name), obj=name)


def test_before_the_first_reading_the_book_is_the_newest_there_is(tmp_path: Path) -> None:
    tiny = Tiny(tmp_path, SHIFTS)
    tiny.add("presses", press_id="P2", rated_spm=100, name="new", valid_from="2026-10-01")
    tiny.load()
    reading = LedgerService(tiny.ledger.root).read()
    assert reading.names("presses") == {"P": "", "P2": "new"}
    assert list(reading.press_states()["press_id"]) == ["P", "P2"]
