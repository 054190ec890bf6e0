"""The intake page in a real browser: a thousand rows set aside, one mended and let in."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from playwright.sync_api import expect

from dashboards.assembly import assemble
from dashboards.ledger.service import LedgerService
from monitor.ledger import Ledger
from monitor.load.files import load
from tests.browser.conftest import Served
from tests.invented.small import strokes, write_book


@pytest.fixture
def served_intake(tmp_path: Path):
    drop = write_book(tmp_path / "drop")
    bad = "".join(f"2026-11-02T07:{at // 60 % 60:02}:{at % 60:02},P1,<b>{at}</b>\n" for at in range(1000))
    (drop / "strokes-1.csv").write_text(strokes(0, 10) + bad + "2026-11-02T06:30:00,P9,=1+1\n")
    (drop / "coils-2.csv").write_text("coil_id,lot,material,width_mm,thickness_mm,weight_kg\nC2,L1,DC01,40,1,3I4\n")
    with Ledger.open(tmp_path / "ledger", create=True) as ledger:
        load([drop], ledger)
    served = Served(assemble(LedgerService(tmp_path / "ledger")))
    yield served
    served.stop()


def test_thousand_rows_are_usable_and_a_mended_one_comes_in(served_intake, visit):
    began = time.monotonic()
    page = visit(served_intake, "/intake")
    expect(page.locator("#intake-body tbody tr")).to_have_count(1000)
    assert time.monotonic() - began < 15
    expect(page.locator("#intake-watch")).to_contain_text("No folder is watched")
    page.click("#intake-reason")
    page.get_by_role("option", name="1 × coils").click()
    expect(page.locator("#intake-body tbody tr")).to_have_count(1)
    page.click("#intake-release")
    expect(page.locator("#intake-done")).to_contain_text("say who you are")
    page.fill("#intake-who", "K. Berg")
    page.click("#intake-column")
    page.get_by_role("option", name="weight_kg").click()
    page.fill("#intake-value", "314")
    page.click("#intake-release")
    expect(page.locator("#intake-done")).to_contain_text("1 row let in. 0 stay.")
    expect(page.locator("#intake-body tbody tr")).to_have_count(1000)
    with page.expect_download() as got:
        page.click("#intake-get")
    assert got.value.suggested_filename == "set-aside.csv"
    assert "'=1+1" in Path(got.value.path()).read_text("utf-8-sig")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_mended_file_and_released_row_come_in_from_the_browser(served_intake, visit, tmp_path):
    page = visit(served_intake, "/intake")
    page.fill("#intake-who", "K. Berg")
    page.click("#intake-reason")
    page.get_by_role("option", name="1 × coils").click()
    expect(page.locator("#intake-body tbody tr")).to_have_count(1)
    with page.expect_download() as got:
        page.click("#intake-get")
    mended = tmp_path / "mended.csv"
    mended.write_text(Path(got.value.path()).read_text("utf-8-sig").replace(",3I4", ",314"))
    with page.expect_file_chooser() as chooser:
        page.get_by_text("Let in a mended CSV").click()
    chooser.value.set_files(mended)
    expect(page.locator("#intake-done")).to_contain_text("1 row let in. 0 stay.")
    page.fill("#intake-rows", "1")
    page.click("#intake-release")
    expect(page.locator("#intake-done")).to_contain_text("stay")


def test_clock_that_jumps_and_hostile_names_are_told_as_text(tmp_path, visit):
    drop = write_book(tmp_path / "drop")
    (drop / "presses.csv").write_text('press_id,rated_spm\nP1,60\n"<img src=x onerror=alert(1)>",60\n')
    late = "".join(f"2026-11-02T{6 + (at - 5) // 60:02}:{(at - 5) % 60:02}:30,P1,{60 * at}\n" for at in range(60, 120))
    (drop / "strokes-1.csv").write_text(strokes(0, 60) + late)
    (drop / "strokes-<b>bold.csv").write_text("time,press_id,counter\n2026-11-02T06:00:00,<i>P9</i>,=1+1\n")
    with Ledger.open(tmp_path / "ledger", create=True) as ledger:
        load([drop], ledger)
    served = Served(assemble(LedgerService(tmp_path / "ledger")))
    try:
        page = visit(served, "/intake")
        expect(page.locator("#intake-clocks li")).to_have_count(1)
        expect(page.locator("#intake-clocks")).to_contain_text("jumps 4 min 30 s back at line 62 of strokes-1.csv")
        expect(page.locator("#intake-files")).to_contain_text("strokes-<b>bold.csv")
        expect(page.locator("#intake-body")).to_contain_text("<i>P9</i>")
        assert page.locator("#intake-files b, #intake-body i").count() == 0
    finally:
        served.stop()
