import datetime as dt

import pytest
from playwright.sync_api import expect

from dashboards.shell import CAUTION
from monitor.enter.floor import StandstillSpan
from tests.invented.five_presses import at

WIDTHS = [1920, 1280, 390]


def fits(page):
    return page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_row_a_press_on_every_screen(served, visit, width, scheme):
    page = visit(served, "/", width=width, scheme=scheme)
    expect(page.locator(".press")).to_have_count(5)
    expect(page.get_by_role("heading", name="late shift")).to_be_visible()
    expect(page.get_by_text("P02 stands 23")).to_be_visible()
    assert fits(page)


@pytest.mark.parametrize("width", WIDTHS)
def test_the_caution_is_on_the_first_screen(served, visit, width):
    page = visit(served, "/", width=width, height=600)
    expect(page.get_by_text(CAUTION)).to_be_in_viewport()


@pytest.mark.parametrize("width", WIDTHS)
def test_no_word_of_a_row_lies_on_another(served, visit, width):
    page = visit(served, "/", width=width)
    expect(page.locator(".press")).to_have_count(5)
    overlaps = page.evaluate(
        """() => [...document.querySelectorAll('.callouts, .strip, .hours')].flatMap(track => {
             const boxes = [...track.querySelectorAll('.callout > span, .coil > span, .hour > b')]
               .map(e => [e.getBoundingClientRect(), e.parentElement.getBoundingClientRect()])
               .map(([own, held]) => ({left: own.left, right: Math.min(own.right, held.right)}))
               .filter(box => box.right > box.left).sort((a, b) => a.left - b.left);
             return boxes.slice(1).map((box, n) => boxes[n].right - box.left).filter(over => over > 1);
           })"""
    )
    assert overlaps == []


@pytest.mark.parametrize("width", WIDTHS)
def test_numbers_are_whole_and_inside_their_column(served, visit, width):
    page = visit(served, "/", width=width)
    expect(page.locator(".press")).to_have_count(5)
    cut = page.evaluate(
        """() => [...document.querySelectorAll('.value, .hour b, .state b')]
             .filter(e => e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== 'inline')
             .map(e => e.textContent)"""
    )
    assert cut == []


def test_shifts_are_walked_by_links_and_the_back_button(served, visit):
    page = visit(served, "/")
    page.get_by_role("link", name="earlier shift").click()
    expect(page.get_by_role("heading", name="early shift, Mon 2 Nov 2026")).to_be_visible()
    assert page.url.endswith("?date=2026-11-02&shift=early")
    expect(page.get_by_text("presses run")).to_have_count(0)
    page.go_back()
    expect(page.get_by_role("heading", name="late shift")).to_be_visible()
    page.go_forward()
    page.get_by_role("link", name="newest").click()
    expect(page.get_by_text("presses run")).to_be_visible()


def test_a_link_is_a_saved_view(served, visit):
    page = visit(served, "/?date=2026-11-02&shift=early&press=P03")
    expect(page.locator(".press")).to_have_count(1)
    page.get_by_role("link", name="all presses").click()
    expect(page.locator(".press")).to_have_count(5)
    expect(page.get_by_role("heading", name="early shift")).to_be_visible()


def test_the_board_renews_itself_when_the_ledger_has_a_new_version(served, visit):
    page = visit(served, "/")
    before = page.get_by_text("P02 stands 23\u202fmin: no reason yet.")
    expect(before).to_be_visible()
    page.wait_for_timeout(5500)
    expect(before).to_be_visible()
    standing = StandstillSpan("P02", at("2026-11-02 19:19"), None)
    version = served.service.read().version
    entered = served.service.floor.give_reason([standing], "QHD", by="Quality", seen=version)
    try:
        expect(page.get_by_text("P02 stands 23\u202fmin: quality hold.")).to_be_visible()
        expect(before).to_have_count(0)
    finally:
        served.service.floor.undo(entered.load_id, by="Quality")
    expect(before).to_be_visible()


def test_two_people_do_not_mix(served, visit):
    one, other = visit(served, "/?press=P01"), visit(served, "/?press=P04")
    expect(one.locator(".press")).to_contain_text("P01")
    expect(other.locator(".press")).to_contain_text("P04")
    served.service.floor.write_note(dt.date(2026, 11, 2), "late", "P01", "chute blocked", by="Shift leader")
    one.wait_for_timeout(6000)
    expect(one.locator(".press")).to_contain_text("P01")
    expect(other.locator(".press")).to_contain_text("P04")


def test_the_age_of_the_newest_reading_is_told_where_the_clock_knows(served, visit):
    page = visit(served, "/")
    expect(page.locator(".age")).to_have_attribute("data-newest", "2026-11-02T19:42:00+01:00")
    page.evaluate("document.querySelector('.age').dataset.newest = new Date(Date.now() - 40 * 60000).toISOString()")
    expect(page.locator(".age.old")).to_have_attribute("data-age", "40 min ago", timeout=3000)


def test_text_from_files_is_never_run(served, visit):
    page = visit(served, "/die?die=%3Cimg%20src%3Dx%20onerror%3Dalert(1)%3E")
    expect(page.get_by_text("There is no die")).to_contain_text("<img src=x onerror=alert(1)>")
    assert page.locator("img").count() == 0


def test_an_empty_ledger_says_what_to_do(served_empty, visit):
    page = visit(served_empty, "/")
    expect(page.locator(".lack")).to_contain_text("strokeledger load")
    page.get_by_role("link", name="Die", exact=True).click()
    expect(page.locator(".lack")).to_contain_text("Load dies.csv")


@pytest.mark.parametrize("width", WIDTHS)
def test_forty_presses_fit_across_the_screen(served_crowd, visit, width):
    page = visit(served_crowd, "/", width=width)
    expect(page.locator(".press")).to_have_count(40)
    assert fits(page)
