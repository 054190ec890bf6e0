"""The planner's task on the coils page: what does not add up, what is held, where a coil went, and a link to it."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from dashboards.assembly import assemble
from dashboards.ledger.service import LedgerService
from tests.browser.conftest import Served
from tests.invented.tiny import Tiny, at

LOTS, EACH = 400, 3


def served_from(plant):
    plant.load()
    plant.ledger.close()
    service = LedgerService(plant.ledger.root)
    served = Served(assemble(service))
    served.service = service
    return served


@pytest.fixture
def served_coils(tmp_path):
    """THIN does not add up, ON lies on the press and its lot is waiting in the rack too."""
    plant = Tiny(tmp_path)
    plant.rows["parts"] = [{"part_no": "N", "net_weight_g": 5}]
    for coil, lot in (("THIN", "L1"), ("ON", "<b>L2</b>"), ("RACK", "<b>L2</b>")):
        plant.coil(coil, lot, weight_kg=1000)
    plant.set_die(at("06:00"))
    plant.change(at("06:00"), "mount", "THIN")
    plant.run(at("06:00"), at("16:00"), every_s=60)
    plant.change(at("16:00"), "remove", "THIN", weight_kg=700)
    plant.change(at("16:01"), "mount", "ON")
    plant.run(at("16:01"), at("16:31"), every_s=60)
    plant.box("B1", at("06:00"), at("07:00"), 3600)
    served = served_from(plant)
    yield served
    served.stop()


@pytest.fixture(scope="module")
def served_many(tmp_path_factory):
    """Twelve hundred coils of four hundred lots in store, one of them used."""
    plant = Tiny(tmp_path_factory.mktemp("many"))
    for nth in range(LOTS * EACH):
        plant.coil(f"C-{nth:04d}", f"L-{nth // EACH:03d}")
    plant.set_die(at("06:00"))
    plant.change(at("06:00"), "mount", "C-0007")
    plant.run(at("06:00"), at("07:00"), every_s=60)
    served = served_from(plant)
    yield served
    served.stop()


def test_what_does_not_add_up_and_what_is_held_stand_on_top(served_coils, visit):
    served_coils.service.place_hold("lot", "<b>L2</b>", "cracks", "Quality")
    page = visit(served_coils, "/coils")
    rows = page.locator(".coil-rows tbody tr")
    expect(rows).to_have_count(3)
    expect(rows.first).to_contain_text("THIN")
    expect(rows.first.locator(".loud-word")).to_have_text("40.8")
    expect(rows.first).to_contain_text("likeliest thickness: 1.000 entered")
    held = page.locator(".holds").first
    expect(held).to_contain_text("ON lies on press P, yet lot <b>L2</b> is held. H-0001: cracks")
    expect(held).to_contain_text("RACK in store would fit press P: do not mount it")
    expect(page.locator(".held-tag")).to_have_count(2)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_the_planner_narrows_sorts_and_follows_a_coil_to_its_box(served_coils, visit):
    page = visit(served_coils, "/coils?scope=odd")
    rows = page.locator(".coil-rows tbody tr")
    expect(rows).to_have_count(1)
    page.goto(served_coils.url + "/coils")
    expect(rows).to_have_count(3)
    page.get_by_role("button", name="Used, kg").click()
    expect(page.locator("th[aria-sort=descending]")).to_contain_text("Used, kg")
    expect(rows.first).to_contain_text("THIN")
    page.get_by_role("button", name="Used, kg").click()
    expect(rows.first).to_contain_text("RACK")
    page.fill("#coils-find", "thin")
    page.press("#coils-find", "Enter")
    expect(rows).to_have_count(1)
    assert "value=thin" in page.url
    page.reload()
    expect(rows).to_have_count(1)
    rows.get_by_role("link", name="THIN").click()
    expect(page.locator("#trace-flow .main-svg").first).to_be_visible()
    expect(page.locator(".table-box td").first).to_have_text("B1")


def test_a_strip_tells_a_screen_reader_what_it_became(served_coils, visit):
    page = visit(served_coils, "/coils", width=390, height=844, scheme="dark")
    strip = page.get_by_role("img", name="Good pieces 180 kg")
    expect(strip).to_have_count(1)
    assert "Difference 40.8" in strip.get_attribute("aria-label")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_twelve_hundred_coils_of_four_hundred_lots_are_still_quick_to_sort_and_find(served_many, visit):
    page = visit(served_many, "/coils")
    rows = page.locator(".coil-rows tbody tr")
    expect(rows).to_have_count(60)
    took = page.evaluate(
        """() => {
          const begun = performance.now();
          [...document.querySelectorAll(".coil-rows .act")].at(-1).click();
          document.querySelector(".coil-rows th:nth-child(5) .sorts").click();
          document.body.offsetHeight;
          return performance.now() - begun;
        }"""
    )
    assert page.locator(".coil-rows tbody tr").count() == LOTS * EACH
    # A second and a half on a busy machine; a fraction of that on a quiet one.
    assert took < 1_500
    page.fill("#coils-find", "L-399")
    page.press("#coils-find", "Enter")
    expect(rows).to_have_count(EACH)
