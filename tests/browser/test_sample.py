"""The pages over a real ledger of the sample plant: what they show is what the figures say."""

import pytest
from playwright.sync_api import expect

from dashboards.app import build_app
from dashboards.pages import PAGES
from monitor.figures import figure
from monitor.ledger import Ledger
from tests.browser.conftest import Served

DAY, SHIFT = "2026-10-22", "Early"


@pytest.fixture(scope="module")
def ledger(sample_root):
    with Ledger.open(sample_root) as ledger:
        yield ledger


@pytest.fixture(scope="module")
def served_sample(ledger):
    served = Served(build_app(ledger.root))
    yield served
    served.stop()


@pytest.mark.parametrize("path", [page.path for page in PAGES])
def test_every_page_opens_on_the_sample(served_sample, visit, path):
    page = visit(served_sample, path)
    expect(page.get_by_role("navigation").first).to_be_visible()
    page.wait_for_load_state("networkidle")


def test_the_board_shows_the_pieces_of_the_figures(served_sample, visit, ledger):
    page = visit(served_sample, f"/?date={DAY}&shift={SHIFT}")
    shifts = figure(ledger, "shifts", from_=DAY, to="2026-10-23")
    made = shifts[shifts["shift"] == SHIFT].groupby("press_id")["pieces"].sum()
    expect(page.locator(".press")).to_have_count(5)
    digits = page.evaluate("() => document.body.innerText.replace(/[^0-9]/g, '')")
    for pieces in made[made > 0]:
        assert str(pieces) in digits


def test_a_die_shows_its_scrap_beside_its_count(served_sample, visit, ledger):
    page = visit(served_sample, "/die?die=D-114&since=2026-10-19&until=2026-11-01")
    expect(page.locator(".js-plotly-plot").first).to_be_visible()
    scrap = figure(ledger, "scrap", die="D-114")
    cracks = int(scrap.loc[scrap["cause"] == "CRK", "rejected"].sum())
    digits = page.evaluate("() => document.body.innerText.replace(/[^0-9]/g, '')")
    assert cracks > 1000
    assert str(cracks) in digits
