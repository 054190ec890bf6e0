from playwright.sync_api import expect

from tests.browser.conftest import Served
from tests.dashboards.invented_plant import PlantDoor, plant


def test_a_server_that_is_gone_is_told_loudly(chromium):
    served = Served(PlantDoor(plant(days=1)))
    page = chromium.new_page()
    try:
        page.goto(served.url)
        expect(page.locator(".press")).to_have_count(5)
        expect(page.get_by_role("alert")).to_be_hidden()
        page.route("**/health", lambda route: route.abort())
        expect(page.get_by_role("alert")).to_contain_text("does not answer", timeout=30000)
        page.unroute("**/health")
        expect(page.get_by_role("alert")).to_be_hidden(timeout=15000)
    finally:
        page.close()
        served.stop()


def test_a_board_that_cannot_be_read_recovers_by_itself(chromium):
    served = Served(PlantDoor(plant(days=1)))
    page = chromium.new_page()
    try:
        page.goto(served.url)
        expect(page.locator(".press")).to_have_count(5)
        calendar, served.door.calendar = served.door.calendar, None
        served.door.version += 1
        expect(page.get_by_role("alert").filter(has_text="could not be read")).to_be_visible(timeout=9000)
        served.door.calendar = calendar
        expect(page.locator(".press")).to_have_count(5)
    finally:
        page.close()
        served.stop()
