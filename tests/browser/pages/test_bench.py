"""The engineer's task at the bench, on the sample: is it the coil, the die or the run, and the sheet to take away."""

import csv
import io

import pytest
from playwright.sync_api import expect

from dashboards.app import build_app
from tests.browser.conftest import Served

CRACKS = "/bench?die=D-114&cause=CRK"


@pytest.fixture(scope="module")
def served_sample(sample_root):
    served = Served(build_app(sample_root))
    yield served
    served.stop()


def answered(page):
    expect(page.locator("#bench-rates .main-svg").first).to_be_visible(timeout=30_000)


def test_the_engineer_finds_the_bad_lot_sees_its_rows_and_takes_the_sheet_away(served_sample, visit, tmp_path):
    page = visit(served_sample, "/bench")
    answered(page)
    # It opens on the strongest line; the cracks of D-114 are a tap away, and say so in the list already.
    cracks = page.locator(".case", has_text="D-114 · CRK")
    expect(cracks).to_contain_text("lot LOT-0417")
    cracks.click()
    expect(page.get_by_role("heading", name="CRK crack at the bend on D-114")).to_be_visible()
    assert "die=D-114" in page.url
    assert "cause=CRK" in page.url
    line = page.locator(".line.is-acts")
    expect(line).to_have_count(1)
    expect(line).to_contain_text("lot LOT-0417")
    expect(line).to_contain_text("times the rate of the rest")
    expect(line).to_contain_text("heat H-2207")
    expect(line).to_contain_text("station 7 (bend)")
    expect(page.locator(".lockout")).to_contain_text("locked out")
    rows = page.locator("#bench-rows")
    expect(rows).to_contain_text("By hand:")
    expect(rows.locator("tbody tr").first).to_contain_text("LOT-0417")
    with page.expect_download(timeout=60_000) as taken:
        page.get_by_role("button", name="Rows as CSV").click()
    told = list(csv.DictReader(io.StringIO(taken.value.path().read_text("utf-8-sig"))))
    bad = [row for row in told if row["side"] == "bad"]
    assert {row["lot"] for row in bad} == {"LOT-0417"}
    assert len(bad) == rows.locator("tbody tr").count()
    with page.expect_download(timeout=60_000) as taken:
        page.get_by_role("button", name="Sheet as PDF").click()
    assert taken.value.suggested_filename == "evidence-D-114-CRK.pdf"
    taken.value.save_as(tmp_path / "sheet.pdf")
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")


def test_the_verdict_and_the_drawing_of_the_strip_are_taken_away_as_they_are_shown(served_sample, visit):
    page = visit(served_sample, CRACKS)
    answered(page)
    with page.expect_download(timeout=60_000) as taken:
        page.locator(".answer").get_by_role("link", name="CSV").click()
    told = list(csv.DictReader(io.StringIO(taken.value.path().read_text("utf-8-sig"))))
    assert {(row["die_id"], row["cause"]) for row in told} == {("D-114", "CRK")}
    shown = page.locator(".lines > .line, .silents > .silent").count()
    assert len(told) == shown
    assert told[0]["level"] == "LOT-0417"
    with page.expect_download(timeout=60_000) as taken:
        page.locator("[data-png=bench-strip]").click()
    assert taken.value.suggested_filename.endswith("The-strip-station-by-station.png")
    assert taken.value.path().read_bytes().startswith(b"\x89PNG")


def test_another_suspect_is_chosen_and_its_rows_are_shown_and_linked(served_sample, visit):
    page = visit(served_sample, CRACKS)
    answered(page)
    page.locator(".silent .factor", has_text="supplier").click()
    expect(page.locator("#bench-rows h2")).to_contain_text("supplier Supplier B")
    expect(page.locator(".silent.here")).to_contain_text("supplier")
    page.reload()
    expect(page.locator("#bench-rows h2")).to_contain_text("supplier Supplier B")
    page.go_back()
    expect(page.locator("#bench-rows h2")).to_contain_text("lot LOT-0417")


def test_die_and_cause_are_picked_and_kept_in_the_address(served_sample, visit):
    page = visit(served_sample, CRACKS)
    answered(page)
    page.locator("#bench-cause").click()
    page.get_by_role("option", name="BUR").click()
    expect(page.get_by_role("heading", name="BUR burr too high on D-114")).to_be_visible()
    page.locator("#bench-die").click()
    page.get_by_role("option", name="D-120").click()
    expect(page.get_by_role("heading", name="BUR burr too high on D-120")).to_be_visible()
    expect(page.locator(".answer h2")).to_contain_text("the die")
    page.wait_for_url("**die=D-120**")


@pytest.mark.parametrize("width", [1920, 1280, 390])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_fits_every_screen(served_sample, visit, width, scheme):
    page = visit(served_sample, CRACKS, width=width, scheme=scheme)
    answered(page)
    expect(page.locator(".strip-drawing img")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def test_it_is_worked_by_keyboard_alone(served_sample, visit):
    page = visit(served_sample, CRACKS)
    answered(page)
    page.locator(".case", has_text="D-101 · FLT").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="FLT out of flat on D-101")).to_be_visible()
    expect(page.locator(".line.is-acts")).to_contain_text("first and last")
    # Every chart says in words what it shows.
    for chart in ("bench-rates", "bench-wear"):
        assert page.locator(f"[role=img]:has(#{chart})").get_attribute("aria-label")
    assert page.locator(".strip-drawing img").get_attribute("alt")


def test_it_says_what_is_lacking(served_sample, visit):
    page = visit(served_sample, "/bench?since=2026-01-01&until=2026-01-02")
    expect(page.get_by_role("status")).to_contain_text("No inspection in this range", timeout=30_000)
    page = visit(served_sample, "/bench?die=D-140")
    expect(page.get_by_role("status")).to_contain_text("No piece of D-140", timeout=30_000)
    page = visit(served_sample, "/bench?die=D-999&cause=CRK")
    expect(page.get_by_role("status")).to_contain_text("Nobody looked at pieces of die “D-999”", timeout=30_000)
    page = visit(served_sample, "/bench?since=2026-11-02&until=2026-11-01")
    expect(page.get_by_role("status")).to_contain_text("The dates run backwards", timeout=30_000)
