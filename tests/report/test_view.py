"""A customer's view: agrees with the figures to the piece, over year ends, clock changes and empty weeks."""

from __future__ import annotations

import datetime as dt
import re
from functools import cache
from pathlib import Path

import pandas as pd
import pytest

from monitor.enter.actions import write
from monitor.figures import ask
from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.report import Branding, CustomerWeek, Output, PlantWeek, gather, make, view_of
from shared.plant import ReportStyle
from tests.report.plant import HOURS, SPM, Row, Works, loaded, text

MONDAY = dt.date(2026, 11, 2)
WORKS = Works({"Acme": 2, "Acme West": 1}, MONDAY, days=3)


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return loaded(WORKS, tmp_path_factory.mktemp("view"))


def view(root: Path, customer: str, week: str, one: bool = False) -> CustomerWeek:
    with Ledger.open(root) as ledger:
        return view_of(_gathered(root, ledger.version, week, customer if one else None), customer)


@cache
def _gathered(root: Path, version: int, week: str, customer: str | None) -> PlantWeek:
    """A week, gathered once for all tests that ask for it of one version."""
    with Ledger.open(root) as ledger:
        return gather(ledger.snapshot(version), week, customer)


def figure(root: Path, name: str, week: tuple[str, str] = ("2026-11-02", "2026-11-09")) -> pd.DataFrame:
    with Ledger.open(root) as ledger:
        return ask(ledger.snapshot(), name, from_=week[0], to=week[1])


def test_totals_are_those_of_the_figures(root: Path) -> None:
    table = view(root, "Acme", "2026-W45").tables["parts"].set_index("part_no")
    weekly = figure(root, "customer_week").query("customer == 'Acme'").set_index("part_no")
    for name in ("made", "good", "shipped", "complaints", "complaint_pieces", "disputed", "ppm_ours", "ppm_theirs"):
        assert list(table[name]) == list(weekly[name]), name
    shifts = figure(root, "shifts").groupby("part_no")[["pieces", "setup_pieces", "rejected", "reworked", "good"]].sum()
    for ours, theirs in zip(("made", "setup_pieces", "rejected", "reworked", "good"), shifts, strict=True):
        assert list(table[ours]) == list(shifts.loc[table.index, theirs]), ours
    assert (table["made"] == table[["setup_pieces", "rejected", "reworked", "good"]].sum(axis=1)).all()


def test_rejects_by_cause_add_up_to_the_scrap_figure_and_to_the_rejected_pieces(root: Path) -> None:
    found = view(root, "Acme West", "2026-W45")
    rejects = found.tables["rejects"].set_index("cause")["rejected"]
    scrap = figure(root, "scrap").query("part_no == 'zqac' and rejected > 0").groupby("cause")["rejected"].sum()
    assert dict(rejects) == dict(scrap)
    table = found.tables["rejects"]
    assert (table["rejected"] - table["in_setup"]).sum() == found.tables["parts"]["rejected"].sum()


def first_line(found: CustomerWeek) -> str:
    page = make(found, Branding(ReportStyle()), {Output.HTML})["report.html"].decode()
    return re.search("<ol><li>(No[^<]*)</li>", page)[1]  # type: ignore[index]


@pytest.mark.parametrize(("week", "told"), [("2026-W44", "Nothing was made"), ("2026-W46", "No counter readings")])
def test_a_week_without_pieces_is_told_from_one_that_nothing_is_known_of(root: Path, week: str, told: str) -> None:
    assert first_line(view(root, "Acme", week)).startswith(told)


def test_the_first_week_of_the_calendar_is_one_like_others(root: Path) -> None:
    assert view(root, "Acme", "0001-W01").weeks == ("0001-W01",)


def test_rows_set_aside_of_tables_that_no_figure_comes_from_are_not_told(tmp_path: Path) -> None:
    root = loaded(Works({"Acme": 1}, MONDAY, days=1), tmp_path)
    (tmp_path / "strokes-bad.csv").write_text("press_id,time,counter\nP-zqaa,soon,1\n", "utf-8")
    (tmp_path / "stops-bad.csv").write_text("press_id,start_at,end_at,reason\nP-zqaa,soon,,zqreason\n", "utf-8")
    with Ledger.open(root) as ledger:
        assert sum(file.set_aside for file in load([*tmp_path.glob("*-bad.csv")], ledger).files) == 2
    assert view(root, "Acme", "2026-W45").set_aside == {"strokes": 1}


def test_of_a_container_sent_to_another_customer_nothing_is_told(tmp_path: Path) -> None:
    root = loaded(Works({"Acme": 1, "Acme West": 1}, MONDAY, days=1), tmp_path)
    told = {"reported_at": "2026-11-04T10:00:00", "customer": "Acme West", "cause": "BUR", "pieces": 2}
    theirs = {"complaint_id": "K-1", "part_no": "zqaa", "container_id": "B-zqaa-0-1", **told}
    own = {"complaint_id": "K-2", "part_no": "zqab", "container_id": "B-zqab-0-1", **told}
    (tmp_path / "complaints-more.csv").write_text(text([theirs, own]), "utf-8")
    with Ledger.open(root) as ledger:
        load([tmp_path / "complaints-more.csv"], ledger)
    table = view(root, "Acme West", "2026-W45").tables["complaints"].set_index("complaint_id")
    assert table.loc["K-1", ["our_inspected", "our_rejected"]].isna().all()
    assert tuple(table.loc["K-2", ["our_inspected", "our_rejected"]]) == (3599, 5)


def test_shipped_is_what_the_containers_trace_to(root: Path) -> None:
    found = view(root, "Acme", "2026-W45")
    by_part = found.tables["containers"].groupby("part_no")["pieces"].sum()
    assert dict(by_part) == dict(found.tables["parts"].set_index("part_no")["shipped"])
    lots = found.tables["lots"].groupby("part_no")["shipped_pieces"].sum()
    assert dict(lots) == dict(by_part)
    trace = figure(root, "trace").query("customer == 'Acme'").groupby("coil_id")["pieces"].sum()
    assert dict(found.tables["containers"].groupby("coil_id")["pieces"].sum()) == dict(trace)


def test_one_customer_gathered_alone_gives_the_same_view(root: Path) -> None:
    every, alone = (view(root, "Acme West", "2026-W45", one) for one in (False, True))
    assert every.figures_hash == alone.figures_hash
    assert every.total == alone.total


def test_ppm_comes_with_its_exact_interval(root: Path) -> None:
    total = view(root, "Acme West", "2026-W45").total
    assert total["ppm_theirs"] == pytest.approx(3e6 / total["shipped"])
    # Exact interval of 3 events: 0.619 to 8.767 (Poisson, as good as binomial at this size).
    assert total["theirs_low"] == pytest.approx(0.6187e6 / total["shipped"], rel=1e-3)
    assert total["theirs_high"] == pytest.approx(8.7673e6 / total["shipped"], rel=1e-3)


def test_complaints_stand_beside_our_own_count_of_the_container(root: Path) -> None:
    (row,) = view(root, "Acme West", "2026-W45").tables["complaints"].to_dict("records")
    assert (row["complaint_id"], row["standing"], row["delivered_in"]) == ("K-zqac", "accepted", "2026-W45")
    assert (row["our_inspected"], row["our_rejected"]) == (60 * SPM - 1, 4)


def test_capability_comes_with_its_counts_and_notes(root: Path) -> None:
    (row,) = view(root, "Acme West", "2026-W45").tables["capability"].to_dict("records")
    assert (row["n"], row["subgroups"]) == (2 * HOURS * 3 * 5, 2 * HOURS * 3)
    assert row["ppk_low"] < row["ppk"] < row["ppk_high"]


def test_capability_is_that_of_the_figures(root: Path) -> None:
    table = view(root, "Acme", "2026-W45").tables["capability"]
    key = ["part_no", "characteristic", "press_id", "die_id"]
    figures = figure(root, "capability").set_index(key).astype({"outs_differ": "boolean"})
    common = [name for name in figures.columns if name in table]
    assert len(common) == 14
    mine = table.set_index(key)[common]
    assert len(mine) == 2
    pd.testing.assert_frame_equal(mine, figures.loc[mine.index, common], check_dtype=False)


def test_limits_are_those_the_plant_book_had_at_the_end_of_the_week(tmp_path: Path) -> None:
    root = loaded(Works({"Acme": 1}, MONDAY, days=1), tmp_path)
    later = "part_no,characteristic,lower,upper,unit,key,valid_from\nzqaa,hole zqaa,4.99,5.01,mm,true,2026-11-09\n"
    (tmp_path / "characteristics-new.csv").write_text(later, "utf-8")
    with Ledger.open(root) as ledger:
        load([tmp_path / "characteristics-new.csv"], ledger)
    before = view(root, "Acme", "2026-W45").tables["capability"].to_dict("records")
    assert [(row["lower"], row["upper"]) for row in before] == [(4.9, 5.1)]
    after = view(root, "Acme", "2026-W46").tables["capability"].to_dict("records")
    assert [(row["lower"], row["upper"], row["n"]) for row in after] == [(4.99, 5.01, 0)]
    assert list(figure(root, "capability")["cp"]) == [before[0]["cp"]]


def test_one_value_is_counted_and_judged_by_nothing(tmp_path: Path) -> None:
    root = loaded(Works({"Acme": 1}, MONDAY, days=1, quiet=True), tmp_path)
    one = "time,press_id,part_no,characteristic,piece,value\n2026-11-02T07:00:00,P-zqaa,zqaa,hole zqaa,1,5\n"
    (tmp_path / "measurements-one.csv").write_text(one, "utf-8")
    with Ledger.open(root) as ledger:
        load([tmp_path / "measurements-one.csv"], ledger)
    (row,) = view(root, "Acme", "2026-W45").tables["capability"].to_dict("records")
    assert (row["n"], row["subgroups"]) == (1, 1)
    assert pd.isna(row["cpk"])


def test_what_was_done_is_told_to_the_customer_it_was_written_for(tmp_path: Path) -> None:
    root = loaded(Works({"Acme": 1, "Acme West": 1}, MONDAY, days=1), tmp_path)
    with Ledger.open(root) as ledger:
        write(ledger, "Acme", "2026-W45", {("zqaa", "BUR"): ("", "punch sharpened")}, "Zqperson")
    (row,) = view(root, "Acme", "2026-W45").tables["actions"].to_dict("records")
    assert (row["cause"], row["cause_name"], row["done"]) == ("BUR", "burr too high", "punch sharpened")
    assert view(root, "Acme West", "2026-W45").tables["actions"].empty
    assert view(root, "Acme", "2026-W46").tables["actions"].empty


def test_a_hold_tells_what_is_held_and_not_why(root: Path) -> None:
    table = view(root, "Acme West", "2026-W45").tables["holds"]
    assert list(table["value"]) == ["L-zqac-1-0"]
    assert table["pieces_shipped"].sum() > 0
    assert "reason" not in table


def test_control_charts_hold_every_inspected_piece(root: Path) -> None:
    charts = view(root, "Acme West", "2026-W45").tables["charts"]
    assert set(charts["cause"]) == {"BUR", "CRK"}
    assert set(charts.groupby("cause")["inspected"].sum()) == {3 * HOURS * (60 * SPM - 1)}


def test_the_trend_ends_with_the_week_and_starts_twelve_before(root: Path) -> None:
    found = view(root, "Acme", "2026-W45")
    assert (len(found.weeks), found.weeks[0], found.weeks[-1]) == (13, "2026-W33", "2026-W45")


@pytest.mark.parametrize(("week", "holds"), [("2026-W44", 0), ("2019-W01", 0), ("2035-W52", 2)])
def test_an_empty_week_holds_nothing_but_open_holds_and_does_not_fail(root: Path, week: str, holds: int) -> None:
    found = view(root, "Acme", week)
    assert view(root, "Acme", week, one=True).figures_hash == found.figures_hash
    filled = {name: len(table) for name, table in found.tables.items() if len(table)}
    assert filled == {"capability": 2} | ({"holds": holds} if holds else {})
    assert set(found.tables["capability"]["n"]) == {0}
    assert found.total["shipped"] == 0
    assert pd.isna(found.total["ppm_theirs"])


def test_the_week_after_the_last_delivery_shows_the_trend_and_the_holds_that_still_stand(root: Path) -> None:
    found = view(root, "Acme", "2026-W46")
    filled = {name: len(table) for name, table in found.tables.items() if len(table)}
    assert filled == {"trend": 2, "capability": 2, "holds": 2}
    assert set(found.tables["trend"]["week"]) == {"2026-W45"}
    assert set(make(found, Branding(ReportStyle()), set(Output))) >= {"report.pdf", "report.xlsx", "report.html"}


@pytest.mark.parametrize(
    ("first", "days", "week", "first_day", "after"),
    [
        (dt.date(2026, 12, 30), 4, "2026-W53", "2026-12-28", "2027-01-04"),
        (dt.date(2026, 10, 24), 2, "2026-W43", "2026-10-19", "2026-10-26"),
    ],
)
def test_weeks_over_a_year_end_and_over_a_clock_change_agree_with_the_figures(
    tmp_path: Path, first: dt.date, days: int, week: str, first_day: str, after: str
) -> None:
    root = loaded(Works({"Acme": 1}, first, days=days), tmp_path)
    found = view(root, "Acme", week)
    weekly = figure(root, "customer_week", (first_day, after))
    assert list(weekly["week"]) == [week]
    assert found.total["made"] == weekly["made"].sum() == days * HOURS * 60 * SPM - 1
    assert found.total["shipped"] == weekly["shipped"].sum()
    assert found.from_.startswith(first_day)
    assert found.to.startswith(after)


class TwoOuts(Works):
    """The same plant with dies that make two pieces a stroke."""

    def _book(self, part: str, owner: str) -> dict[str, list[Row]]:
        book = super()._book(part, owner)
        return book | {"dies": [{**row, "parts_per_stroke": 2} for row in book["dies"]]}


@pytest.mark.parametrize(("shift", "told"), [(0.0, False), (0.02, True)])
def test_outs_that_differ_are_told_beside_their_capability(tmp_path: Path, shift: float, told: bool) -> None:
    root = loaded(TwoOuts({"Acme": 1}, MONDAY, days=1, quiet=True), tmp_path)
    start = dt.datetime.combine(MONDAY, dt.time(6))
    rows: list[Row] = [
        {"time": start + dt.timedelta(minutes=5 * group), "press_id": "P-zqaa", "part_no": "zqaa", "out": out,
         "characteristic": "hole zqaa", "piece": 10 * out + piece,
         "value": 5 + (7 * piece + 3 * group) % 9 / 250 + shift * out}
        for group in range(30) for out in (1, 2) for piece in range(1, 6)
    ]  # fmt: skip
    (tmp_path / "measurements.csv").write_text(text(rows), "utf-8")
    with Ledger.open(root) as ledger:
        assert not [file.set_aside for file in load([tmp_path / "measurements.csv"], ledger).files if file.set_aside]
    found = view(root, "Acme", "2026-W45")
    assert list(found.tables["capability"]["outs_differ"]) == [told]
    page = make(found, Branding(ReportStyle()), {Output.HTML})["report.html"].decode()
    assert bool(re.search("<td>[^<]*outs differ", page)) is told


def test_a_part_without_inspections_says_nothing_about_causes(tmp_path: Path) -> None:
    found = view(loaded(Works({"Acme": 1}, MONDAY, days=1, quiet=True), tmp_path), "Acme", "2026-W45")
    assert found.tables["rejects"].empty
    assert found.tables["charts"].empty
    assert found.total["made"] == HOURS * 60 * SPM - 1


def test_a_week_without_deliveries_says_so_in_place_of_a_ratio(root: Path) -> None:
    found = view(root, "Acme", "2026-W44")
    page = make(found, Branding(ReportStyle()), {Output.HTML})["report.html"].decode()
    assert "so there is no ppm; in complaints: 0 pieces" in page
    assert "– ppm" not in page
