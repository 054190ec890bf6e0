"""The trace page in a real browser: search, drawing, and a hold placed and lifted."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from dashboards.assembly import assemble
from dashboards.ledger.service import LedgerService
from tests.browser.conftest import Served
from tests.invented.tiny import Tiny, at


@pytest.fixture
def served_boxes(tmp_path):
    plant = Tiny(tmp_path)
    plant.coil("C1")
    plant.set_die(at("06:00"))
    plant.change(at("06:00"), "mount", "C1")
    plant.run(at("06:00"), at("06:20"))
    plant.box("<b>B1</b>", at("06:00"), at("06:10"), 600)
    plant.load()
    plant.ledger.close()
    served = Served(assemble(LedgerService(plant.ledger.root)))
    yield served
    served.stop()


def test_from_a_label_to_its_coil_and_a_hold_on_it(served_boxes, visit):
    page = visit(served_boxes, "/trace")
    expect(page.locator(".lack")).to_contain_text("Type what stands on a label")
    page.fill("#trace-value", "C1")
    page.click("#trace-find")
    expect(page.locator("#trace-flow .main-svg").first).to_be_visible()
    expect(page).to_have_url(f"{served_boxes.url}/trace?value=C1")
    expect(page.locator(".table-box td").first).to_have_text("<b>B1</b>")
    page.click("#trace-place")
    expect(page.locator(".summary")).to_contain_text("Nothing entered")
    page.fill("#trace-why", "cracks")
    page.fill("#trace-who", "Quality")
    page.click("#trace-place")
    expect(page.locator(".hold-places li")).to_contain_text("C1 lies on press P, yet coil C1 is held.")
    held = page.locator(".panel .holds li")
    expect(held).to_contain_text("coil C1: cracks")
    page.fill("#trace-why", "sorted")
    page.fill("#trace-who", "Quality")
    page.get_by_role("button", name="Lift hold H-0001").click()
    expect(page.locator(".summary")).to_contain_text("lifted")
    expect(held).to_contain_text("LIFTED")
    expect(held).to_contain_text("by Quality: sorted")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_a_stretch_of_strokes_is_held_and_its_tags_are_printed(served_boxes, visit):
    page = visit(served_boxes, "/trace")
    page.get_by_text("Hold what a die or press made").click()
    page.fill("#trace-why", "chipped punch")
    page.fill("#trace-who", "Toolroom")
    page.fill("#trace-held", "nothing")
    page.fill("#trace-from", "2026-11-02 06:02")
    page.fill("#trace-to", "2026-11-02 06:04")
    page.click("#trace-stretch")
    expect(page.locator(".summary")).to_contain_text("there is no die and no press “nothing”")
    page.get_by_text("Hold what a die or press made").click()
    page.fill("#trace-why", "chipped punch")
    page.fill("#trace-who", "Toolroom")
    page.fill("#trace-held", "D")
    page.fill("#trace-from", "2026-11-02 06:02")
    page.fill("#trace-to", "2026-11-02 06:04")
    page.click("#trace-stretch")
    expect(page.locator(".summary")).to_contain_text("Hold H-0001 placed on die D.")
    page.get_by_role("link", name="H-0001").click()
    expect(page.get_by_role("heading", name="hold H-0001")).to_be_visible()
    expect(page.locator(".table-box td").first).to_have_text("<b>B1</b>")
    with page.expect_download(timeout=60_000) as taken:
        page.get_by_role("button", name="Tags of hold H-0001").click()
    assert taken.value.suggested_filename == "H-0001-tags.pdf"
    assert taken.value.path().read_bytes().startswith(b"%PDF")
