from playwright.sync_api import expect

from dashboards.assembly import assemble
from tests.browser.conftest import Served
from tests.dashboards.invented_plant import PlantDoor, plant


def test_a_server_that_is_gone_is_told_loudly(chromium):
    served = Served(assemble(PlantDoor(plant(days=1))))
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
    door = PlantDoor(plant(days=1))
    served = Served(assemble(door))
    page = chromium.new_page()
    try:
        page.goto(served.url)
        expect(page.locator(".press")).to_have_count(5)
        calendar, door.calendar = door.calendar, None
        door.version += 1
        expect(page.get_by_role("alert").filter(has_text="could not be read")).to_be_visible(timeout=9000)
        door.calendar = calendar
        expect(page.locator(".press")).to_have_count(5)
    finally:
        page.close()
        served.stop()
