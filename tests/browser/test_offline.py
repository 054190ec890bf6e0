import socket
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Error, expect

from dashboards.assembly import assemble
from tests.browser.conftest import Served
from tests.dashboards.invented_plant import PlantDoor, plant

SERVER = """
import sys, waitress
from dashboards.assembly import assemble
from tests.dashboards.invented_plant import PlantDoor, plant
waitress.serve(assemble(PlantDoor(plant(days=1))).server, host="127.0.0.1", port=int(sys.argv[1]))
"""


def test_a_server_that_is_gone_is_told_loudly(chromium):
    served = Served(assemble(PlantDoor(plant(days=1))))
    page = chromium.new_page()
    try:
        page.goto(served.url)
        expect(page.locator(".press")).to_have_count(5)
        expect(page.locator(".offline")).to_be_hidden()
        page.route("**/health", lambda route: route.abort())
        expect(page.locator(".offline")).to_contain_text("does not answer", timeout=30000)
        page.evaluate("window.scrollTo(0, document.documentElement.scrollHeight)")
        expect(page.locator(".offline")).to_be_in_viewport()
        page.unroute("**/health")
        expect(page.locator(".offline")).to_be_hidden(timeout=15000)
    finally:
        page.close()
        served.stop()


def test_a_board_that_cannot_be_read_recovers_by_itself(chromium):
    service = PlantDoor(plant(days=1))
    served = Served(assemble(service))
    page = chromium.new_page()
    try:
        page.goto(served.url)
        expect(page.locator(".press")).to_have_count(5)
        calendar, service.calendar = service.calendar, None
        service.version += 1
        expect(page.get_by_role("alert").filter(has_text="could not be read")).to_be_visible(timeout=9000)
        service.calendar = calendar
        expect(page.locator(".press")).to_have_count(5)
    finally:
        page.close()
        served.stop()


def test_a_restart_of_the_server_is_got_over(chromium):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    page = chromium.new_page()
    try:
        with started(port):
            open_when_up(page, port)
            expect(page.locator(".press")).to_have_count(5)
        expect(page.locator(".offline")).to_be_visible(timeout=30_000)
        expect(page.locator(".press")).to_have_count(5)
        with started(port):
            expect(page.locator(".offline")).to_be_hidden(timeout=60_000)
            page.get_by_role("link", name="D131", exact=True).click()
            expect(page.get_by_role("heading", name="D131 Hinge leaf left and right")).to_be_visible()
    finally:
        page.close()


@contextmanager
def started(port):
    """A server in a process of its own, which takes its connections with it when it ends."""
    process = subprocess.Popen([sys.executable, "-c", SERVER, str(port)], cwd=Path(__file__).parents[2])
    try:
        yield
    finally:
        process.kill()
        process.wait()


def open_when_up(page, port):
    for _ in range(120):
        try:
            page.goto(f"http://127.0.0.1:{port}/")
        except Error:
            time.sleep(0.5)
        else:
            return
