import pytest
from playwright.sync_api import expect

CHARTS = ["die-hours", "die-stops", "die-strip", "die-scrap"]


def drawn(page):
    for chart in CHARTS:
        expect(page.locator(f"#{chart} .main-svg").first).to_be_visible(timeout=15000)


@pytest.mark.parametrize("width", [1920, 1280, 390])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_charts_and_tables_on_every_screen(served, visit, width, scheme):
    page = visit(served, "/die", width=width, scheme=scheme)
    drawn(page)
    expect(page.locator("table")).to_have_count(5)
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def test_picking_a_die_is_kept_in_the_address(served, visit):
    page = visit(served, "/die?die=D102")
    expect(page.get_by_role("heading", name="D102 Angle bracket 40")).to_be_visible(timeout=15000)
    page.locator("#die-pick").click()
    page.get_by_role("option", name="D140 Spring clip").click()
    expect(page.get_by_role("heading", name="D140 Spring clip")).to_be_visible()
    assert "die=D140" in page.url
    page.go_back()
    expect(page.get_by_role("heading", name="D102 Angle bracket 40")).to_be_visible()
    expect(page.locator("#die-pick")).to_contain_text("D102")


def test_a_shift_is_picked_and_shown(served, visit):
    page = visit(served, "/die?die=D102")
    drawn(page)
    page.locator("#die-shift").click()
    page.get_by_role("option", name="night").click()
    expect(page.locator(".die .head")).to_contain_text("night shift")
    assert "shift=night" in page.url
    shifts = page.locator(".whole tbody tr td:nth-child(2)").all_inner_texts()
    assert set(shifts) == {"night"}


def test_a_die_is_reached_from_the_board(served, visit):
    page = visit(served, "/")
    page.get_by_role("link", name="D131", exact=True).click()
    expect(page.get_by_role("heading", name="D131 Hinge leaf left and right")).to_be_visible(timeout=15000)
    expect(page.locator("#die-pick")).to_contain_text("D131")


def test_the_switch_turns_the_theme_redraws_the_charts_and_is_remembered(served, visit):
    page = visit(served, "/die?die=D102", scheme="light")
    drawn(page)
    tick = page.locator("#die-stops .xtick text").first
    before = tick.evaluate("e => getComputedStyle(e).fill")
    page.get_by_role("button", name="Dark").click()
    expect(page.locator("html")).to_have_attribute("data-theme", "dark")
    expect(page.get_by_role("button", name="Light")).to_be_visible()
    expect(tick).not_to_have_css("fill", before)
    page.reload()
    expect(page.locator("html")).to_have_attribute("data-theme", "dark")
    drawn(page)
    page.get_by_role("button", name="Light").click()
    page.wait_for_function("localStorage.getItem('strokeledger-theme') === null")


def test_the_system_theme_is_followed_while_nobody_has_chosen(served, visit):
    page = visit(served, "/die?die=D102", scheme="dark")
    drawn(page)
    expect(page.get_by_role("button", name="Light")).to_be_visible()
    page.emulate_media(color_scheme="light")
    expect(page.get_by_role("button", name="Dark")).to_be_visible()
    expect(page.locator("html")).to_have_attribute("data-theme", "light")


def test_dates_without_strokes_say_what_to_do(served, visit):
    page = visit(served, "/die?die=D102&since=2026-01-01&until=2026-01-02")
    expect(page.locator(".lack")).to_contain_text("Widen the dates or pick another die")
    assert page.locator(".js-plotly-plot").count() == 0


def test_leaving_the_die_leaves_its_address_behind(served, visit):
    page = visit(served, "/die?die=D140&shift=late")
    drawn(page)
    page.get_by_role("link", name="Board").click()
    expect(page.locator(".press")).to_have_count(5)
    page.wait_for_timeout(1500)
    assert page.url == f"{served.url}/"


def test_charts_are_as_wide_as_the_paper_and_go_back_to_the_screen(served, visit):
    page = visit(served, "/die?die=D102")
    drawn(page)
    chart = page.locator("#die-hours .main-svg").first
    before = chart.bounding_box()["width"]
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 700, "height": 900})
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    widths = page.locator(".svg-container").evaluate_all("boxes => boxes.map(box => box.getBoundingClientRect().right)")
    assert len(widths) == len(CHARTS)
    assert max(widths) <= 700
    assert chart.get_attribute("viewBox")
    page.evaluate("window.dispatchEvent(new Event('afterprint'))")
    assert chart.get_attribute("viewBox") is None
    page.emulate_media(media="screen")
    page.set_viewport_size({"width": 1280, "height": 900})
    page.wait_for_function(
        f"document.querySelector('#die-hours .main-svg').getBoundingClientRect().width > {before - 2}"
    )
