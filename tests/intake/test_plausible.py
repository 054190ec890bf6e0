"""A wrong year is set aside with the setting that lets it in, in every table whose rows have happened."""

from __future__ import annotations

import datetime as dt
import resource
import time
from pathlib import Path

import pytest

from monitor.check import check
from monitor.enter.entry import enter
from monitor.figures import figure
from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.load.release import release
from shared.errors import PlantError, RequestError
from shared.fields import Kind
from shared.plant import Plant
from shared.tables import TABLES
from tests.invented.small import PLANT, strokes, write_book

DAY_US = 86_400_000_000
#: 2026-12-01 12:00 UTC, the moment of the loads below: 2 days ahead is the noon of the 3rd.
NOW_US = int(dt.datetime(2026, 12, 1, 12, tzinfo=dt.UTC).timestamp()) * 1_000_000
HEAD = "time,press_id,counter\n"
#: Columns that may hold what is planned; whoever adds a column of times decides on which side it stands.
PLANNED = {"orders.start_at", "orders.due_at", "holds.from", "holds.to"}


def take(ledger: Ledger, folder: Path, text: str, name: str = "strokes-1.csv", toml: str = PLANT) -> dict[int, str]:
    """Load the book and one file at NOW_US; returns the reasons by line."""
    if not folder.exists():
        write_book(folder)
    (folder / "plant.toml").write_text(toml)
    (folder / name).write_text(text)
    load([folder], ledger, now_us=NOW_US)
    held = ledger.snapshot().set_aside_rows()
    return dict(zip(held["line"].tolist(), held["reason"], strict=True))


def test_columns_that_may_lie_ahead_are_those_of_plans() -> None:
    times = {
        f"{table.name}.{name}": table.field(name).planned
        for table in TABLES.values()
        for name in table.columns
        if table.field(name).kind is Kind.TIME
    }
    assert {name for name, planned in times.items() if planned} == PLANNED


def test_rows_beyond_two_days_ahead_and_twenty_years_back_are_set_aside(ledger: Ledger, tmp_path: Path) -> None:
    # 20 years of 365.25 days before 2026-12-01 12:00 is 7,305 days: 2006-12-01 12:00 (5 leap days between).
    rows = ["2006-12-01T11:59:59Z", "2006-12-01T12:00:00Z", "2026-12-03T12:00:00Z", "2026-12-03T12:00:01Z"]
    text = HEAD + "".join(f"{time},P1,{number}\n" for number, time in enumerate(rows))
    assert take(ledger, tmp_path / "drop", text) == {
        2: "time is '2006-12-01T11:59:59Z', more than 20 years before this load; expected later, or a higher years_back"
        " under [times] in plant.toml",
        5: "time is '2026-12-03T12:00:01Z', more than 2 days after this load; expected earlier, or a higher days_ahead"
        " under [times] in plant.toml",
    }
    assert len(ledger.snapshot().strokes("P1")) == 2


def test_the_plant_says_how_far_rows_may_lie(ledger: Ledger, tmp_path: Path) -> None:
    toml = PLANT.replace(
        'timezone = "Europe/Berlin"', 'timezone = "Europe/Berlin"\n[times]\nyears_back = 1\ndays_ahead = 0'
    )
    text = HEAD + "2025-11-01T06:00Z,P1,1\n2026-12-01T11:59Z,P1,2\n2026-12-01T12:01Z,P1,3\n"
    reasons = take(ledger, tmp_path / "drop", text, toml=toml)
    assert sorted(reasons) == [2, 4]
    assert "more than 1 years before" in reasons[2]
    assert "more than 0 days after" in reasons[4]


@pytest.mark.parametrize(
    "setting", ["years_back = 0", "days_ahead = -1", "years_back = nan", "years = 3", "days_ahead = 'x'"]
)
def test_a_setting_that_means_nothing_is_refused(setting: str) -> None:
    with pytest.raises(PlantError, match=r"plant\.toml, times"):
        Plant.from_toml(f"timezone = 'UTC'\n[times]\n{setting}\n")


def test_orders_of_next_year_are_taken_and_deliveries_of_next_year_are_not(ledger: Ledger, tmp_path: Path) -> None:
    orders = "order_id,part_no,quantity,start_at,due_at\nO1,N1,5,2027-11-01,2027-11-30\n"
    assert take(ledger, tmp_path / "drop", orders, "orders-1.csv") == {}
    sent = "shipment_id,container_id,shipped_at\nS1,B1,2027-11-01\n"
    assert "days_ahead under [times]" in take(ledger, tmp_path / "drop", sent, "shipments-1.csv")[2]


def test_a_row_from_the_future_comes_in_by_hand_once_its_day_has_come_and_never_by_itself(
    ledger: Ledger, tmp_path: Path
) -> None:
    take(ledger, tmp_path / "drop", HEAD + "2026-12-24T06:00:00Z,P1,7\n")
    [number] = ledger.snapshot().set_aside_rows()["id"].tolist()
    assert "days after this load" in release(ledger, {number: None}, now_us=NOW_US).stay[number]
    (tmp_path / "drop" / "strokes-2.csv").write_text(HEAD + "2026-12-24T05:00:00Z,P1,1\n")
    later_us = NOW_US + 30 * DAY_US
    # The file that held it is loaded once more a month later, with another: the row may come of a wrong clock.
    load([tmp_path / "drop"], ledger, now_us=later_us)
    assert ledger.snapshot().strokes("P1")["counter"].to_pylist() == [1]
    assert release(ledger, {number: None}, now_us=later_us).taken == 1
    assert ledger.snapshot().strokes("P1")["counter"].to_pylist() == [1, 7]


def test_nobody_enters_what_has_not_happened(ledger: Ledger, tmp_path: Path) -> None:
    take(ledger, tmp_path / "drop", strokes(0, 5))
    row = {"press_id": "P1", "start_at": NOW_US + 400 * DAY_US, "reason": "JAM"}
    with pytest.raises(RequestError, match="days_ahead under"):
        enter(ledger, "stops", row, now_us=NOW_US)


def test_one_wrong_year_costs_next_to_nothing(ledger: Ledger, tmp_path: Path) -> None:
    folder = write_book(tmp_path / "drop")
    load([folder], ledger, now_us=NOW_US)
    (folder / "strokes-1.csv").write_text(HEAD + "2026-11-02T06:00:00Z,P1,1\n2099-11-02T06:00:00Z,P1,2\n")
    before, begun = _size(ledger.root), time.process_time()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    report = load([folder / "strokes-1.csv"], ledger, now_us=NOW_US)
    assert (report.files[0].new, report.files[0].set_aside) == (1, 1)
    # Before: 21 s, 916 MB, 98 MB.
    assert time.process_time() - begun < 2
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - peak < 50 << 10
    assert _size(ledger.root) - before < 1 << 20
    assert figure(ledger, "shifts")["strokes"].sum() == 0
    assert check(ledger) == []


def _size(folder: Path) -> int:
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
