"""A bare date is that plant day: the start of it, or the end where something is to be over by then."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pyarrow as pa
import pytest

from monitor.figures import figure
from monitor.intake.times import Dates, parse_times
from monitor.load.files import load
from shared.calendar import Calendar
from shared.plant import Plant
from tests.invented.tiny import PLAIN, SHIFTS, Tiny, at

PLANT = Plant.from_toml(
    'timezone = "Europe/Berlin"\n[[shift]]\nname = "early"\nstart = "06:00"\nend = "14:00"\n'
    '[[shift]]\nname = "early"\nstart = "05:00"\nend = "13:00"\nvalid_from = 2026-11-09\n'
)
CALENDAR = Calendar(PLANT)


def iso(raw: pa.Array, *, to_end: bool = False) -> list[str]:
    """What a column of times means, in plant time."""
    times = parse_times(raw, "Europe/Berlin", Dates(CALENDAR, to_end))
    assert not (times.bad | times.never | times.twice).any()
    return CALENDAR.local_iso(times.us.tolist())


@pytest.mark.parametrize("kind", [pa.string(), pa.date32(), pa.date64()])
def test_it_is_the_start_of_that_plant_day(kind: pa.DataType) -> None:
    days = ["2026-11-02", "2026-11-09", "2026-10-25"]
    raw = pa.array(days if pa.types.is_string(kind) else [dt.date.fromisoformat(day) for day in days], kind)
    # Shifts begin at 06:00, from 9 November on at 05:00; 25 October has 25 hours and begins in winter time.
    starts = ["2026-11-02T06:00:00+01:00", "2026-11-09T05:00:00+01:00", "2026-10-25T06:00:00+01:00"]
    assert iso(raw) == starts


def test_what_is_due_on_a_day_is_due_until_its_end() -> None:
    # Sunday 8 November ends where Monday's plant day begins, at 05:00 by then.
    ends = ["2026-11-03T05:59:59+01:00", "2026-11-09T04:59:59+01:00"]
    assert iso(pa.array(["2026-11-02", "2026-11-08"]), to_end=True) == ends


def test_a_time_stays_as_it_is() -> None:
    texts = ["2026-11-02T00:00", "2026-11-02", "2026-11-02T00:00Z"]
    assert iso(pa.array(texts)) == [
        "2026-11-02T00:00:00+01:00",
        "2026-11-02T06:00:00+01:00",
        "2026-11-02T01:00:00+01:00",
    ]


def test_deliveries_and_complaints_dated_monday_count_in_the_week_of_monday(tmp_path: Path) -> None:
    tiny = Tiny(tmp_path, SHIFTS)
    tiny.coil("C")
    tiny.set_die(at("06:00"))
    tiny.change(at("06:00"), "mount", "C")
    tiny.run(at("06:00"), at("06:10"))
    tiny.box("B", at("06:00"), at("06:10"), 600)
    tiny.add("shipments", shipment_id="S", container_id="B", shipped_at="2026-11-09")
    tiny.add("complaints", complaint_id="Q", reported_at="2026-11-16", customer="K", part_no="N", pieces=6)
    tiny.load()
    weeks = figure(tiny.ledger, "customer_week").set_index("week")[["shipped", "complaint_pieces"]]
    # Read as midnight, the 9th would be the night shift of Sunday the 8th: week 45, and the 16th week 46.
    assert weeks.T.to_dict("list") == {"2026-W45": [0, 0], "2026-W46": [600, 0], "2026-W47": [0, 6]}
    # 9 November 06:00 UTC.
    (shipped,) = tiny.ledger.snapshot().rows("shipments")["shipped_at"].to_pylist()
    assert shipped == dt.datetime(2026, 11, 9, 6, tzinfo=dt.UTC)


def test_what_begins_and_ends_on_one_day_is_in_order(tmp_path: Path) -> None:
    tiny = Tiny(tmp_path, SHIFTS)
    tiny.coil("C")
    tiny.add("orders", order_id="O", part_no="N", quantity=5, start_at="2026-11-02T09:00+00:00", due_at="2026-11-02")
    tiny.add("holds", hold_id="H", placed_at="2026-11-02T09:00+00:00", lifted_at="2026-11-02", scope="coil", value="C",
             reason="R")  # fmt: skip
    tiny.add("complaints", complaint_id="Q", reported_at="2026-11-02T09:00+00:00", closed_at="2026-11-02",
             customer="K", part_no="N", pieces=6, accepted="no")  # fmt: skip
    tiny.load()
    ends = [tiny.ledger.snapshot().rows(table)[name].to_pylist()[0]
            for table, name in (("orders", "due_at"), ("holds", "lifted_at"), ("complaints", "closed_at"))]  # fmt: skip
    # The plant day of the 2nd ends where that of the 3rd begins, at 06:00.
    assert ends == [dt.datetime(2026, 11, 3, 5, 59, 59, tzinfo=dt.UTC)] * 3


def test_a_hold_over_days_reaches_to_the_end_of_the_last_one(tmp_path: Path) -> None:
    tiny = Tiny(tmp_path, SHIFTS)
    tiny.add("holds", hold_id="H", placed_at="2026-11-04", scope="range", value="P", reason="R",
             **{"from": "2026-11-02", "to": "2026-11-03"})  # fmt: skip
    tiny.load()
    (hold,) = tiny.ledger.snapshot().rows("holds").to_pylist()
    assert hold["from"] == dt.datetime(2026, 11, 2, 6, tzinfo=dt.UTC)
    assert hold["to"] == dt.datetime(2026, 11, 4, 5, 59, 59, tzinfo=dt.UTC)


def test_without_shifts_the_day_begins_at_midnight(tmp_path: Path) -> None:
    tiny = Tiny(tmp_path, PLAIN)
    tiny.add("orders", order_id="O", part_no="N", quantity=5, start_at="2026-11-02", due_at="2026-11-02")
    tiny.load()
    (order,) = tiny.ledger.snapshot().rows("orders").to_pylist()
    assert order["start_at"] == dt.datetime(2026, 11, 2, tzinfo=dt.UTC)
    assert order["due_at"] == dt.datetime(2026, 11, 2, 23, 59, 59, tzinfo=dt.UTC)


def test_a_day_number_of_a_spreadsheet_without_a_fraction_is_a_date(tmp_path: Path) -> None:
    tiny = Tiny(tmp_path, SHIFTS)
    tiny.load()
    (tmp_path / "profile-plan.toml").write_text(
        'table = "orders"\n[match]\nname = "plan-*.csv"\n[time]\nserial1900 = true\n'
        + "".join(f'[columns.{name}]\nfrom = "{name}"\n' for name in ("order_id", "part_no", "quantity", "due_at")),
        "utf-8",
    )
    (tmp_path / "plan-1.csv").write_text("order_id,part_no,quantity,due_at\nO,N,5,46328\nP,N,5,46328.25\n", "utf-8")
    load([tmp_path / "profile-plan.toml", tmp_path / "plan-1.csv"], tiny.ledger)
    due = {row["order_id"]: row["due_at"] for row in tiny.ledger.snapshot().rows("orders").to_pylist()}
    # Day 46328 is 2 November 2026; a quarter of it is 06:00.
    assert due["O"] == dt.datetime(2026, 11, 3, 5, 59, 59, tzinfo=dt.UTC)
    assert due["P"] == dt.datetime(2026, 11, 2, 6, tzinfo=dt.UTC)
