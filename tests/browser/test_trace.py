"""The trace page in a real browser: search, drawing, and a hold placed and lifted."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from dashboards.assembly import assemble
from dashboards.data import LedgerDoor
from tests.browser.conftest import Served
from tests.tiny import Tiny, at


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
    served = Served(assemble(LedgerDoor(plant.ledger.root)))
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
    expect(page.locator(".holds li")).to_contain_text("on coil C1: cracks")
    page.fill("#trace-why", "sorted")
    page.fill("#trace-who", "Quality")
    page.click(".holds .act")
    expect(page.locator(".summary")).to_contain_text("lifted")
    expect(page.locator(".holds")).to_have_count(0)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
