"""Every page under the rules of axe-core, light and dark, and by keyboard alone.

`axe.min.js` is axe-core 4.14.1 as published, under the Mozilla Public License 2.0 that its head names.
"""

from pathlib import Path

import pytest
from playwright.sync_api import expect

from dashboards.app import build_app
from dashboards.pages import PAGES
from tests.browser.conftest import Served

AXE = (Path(__file__).parent / "axe.min.js").read_text("utf-8")
RULES_BROKEN = """axe.run(document, {resultTypes: ['violations']}).then(found => found.violations.flatMap(
    rule => rule.nodes.slice(0, 3).map(node => [rule.id, node.html.slice(0, 200), node.failureSummary])))"""

#: A telling view of each page; a page that is not named here is looked at as it opens.
VIEWS = {
    "/": "/?date=2026-10-22&shift=Early",
    "/bench": "/bench?die=D-114&cause=CRK",
    "/die": "/die?die=D-114&since=2026-10-26&until=2026-10-31",
    "/trace": "/trace?scope=coil&value=C-20208",
}

CONTROLS = """[...document.querySelectorAll('a[href], button, input, summary')]
    .filter(one => one.checkVisibility({visibilityProperty: true}) && one.tabIndex >= 0 && !one.disabled
        && one.type !== 'file').length"""
FOCUSED = """(() => {
    const one = document.activeElement, look = getComputedStyle(one);
    one.dataset.order = one.dataset.order || String(Math.random());
    const field = one.closest('.dash-datepicker-input-wrapper, .dash-dropdown');
    const shown = [look, ...(field ? [getComputedStyle(field)] : [])];
    return [one.dataset.order, one.outerHTML.slice(0, 120), one.matches('a, button, input, summary'),
        shown.some(style => style.outlineStyle !== 'none' || style.boxShadow !== 'none')];
})()"""


@pytest.fixture(scope="module")
def sample(sample_root):
    served = Served(build_app(sample_root))
    yield served
    served.stop()


def settled(page):
    page.wait_for_load_state("networkidle")
    expect(page.locator("main")).not_to_be_empty()
    expect(page.locator("[data-dash-is-loading=true]")).to_have_count(0)
    page.wait_for_timeout(800)  # Charts are drawn after the last answer has come.


def broken(page):
    page.evaluate(AXE)
    return page.evaluate(RULES_BROKEN)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("shown", PAGES, ids=lambda page: page.name)
def test_axe_finds_nothing(sample, visit, shown, scheme):
    page = visit(sample, VIEWS.get(shown.path, shown.path), scheme=scheme)
    settled(page)
    assert broken(page) == []


@pytest.mark.parametrize("width", [390, 1920])
def test_axe_finds_nothing_on_a_phone_or_a_wall(sample, visit, width):
    page = visit(sample, VIEWS["/"], width=width)
    settled(page)
    assert broken(page) == []


def test_the_first_key_skips_to_the_page(sample, visit):
    page = visit(sample, VIEWS["/die"])
    settled(page)
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_focused()
    expect(page.locator(".skip")).to_be_in_viewport()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.closest('main') !== null")


@pytest.mark.parametrize("path", ["/die", "/intake"])
def test_every_control_is_reached_by_tab_and_shows_that_it_is(sample, visit, path):
    page = visit(sample, VIEWS.get(path, path))
    settled(page)
    wanted = page.evaluate(CONTROLS)
    seen, hidden = set(), []
    for _ in range(wanted + 30):
        page.keyboard.press("Tab")
        order, markup, is_control, shows = page.evaluate(FOCUSED)
        seen |= {order} if is_control else set()
        hidden += [markup] if is_control and not shows else []
    assert hidden == []
    assert len(seen) >= wanted
