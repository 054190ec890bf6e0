import socket
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Error, expect

from dashboards.app import build_app
from dashboards.assembly import assemble
from dashboards.ledger.service import LedgerService
from shared.errors import LedgerError
from tests.browser.conftest import Served

SERVER = """
import pathlib, sys
from dashboards.app import serve
serve(pathlib.Path(sys.argv[2]), port=int(sys.argv[1]))
"""


class FaultyService(LedgerService):
    """A service whose ledger cannot be read for a while."""

    away = False

    def read(self):
        if self.away:
            raise LedgerError("ledger", "a locked file", "a ledger", "wait")
        return super().read()


def test_a_server_that_is_gone_is_told_loudly(chromium, five_presses):
    served = Served(build_app(five_presses))
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


def test_a_board_that_cannot_be_read_recovers_by_itself(chromium, five_presses):
    service = FaultyService(five_presses)
    served = Served(assemble(service))
    page = chromium.new_page()
    try:
        page.goto(served.url)
        expect(page.locator(".press")).to_have_count(5)
        service.away = True
        expect(page.get_by_role("alert").filter(has_text="could not be read")).to_be_visible(timeout=9000)
        service.away = False
        expect(page.locator(".press")).to_have_count(5)
    finally:
        page.close()
        served.stop()


def test_a_restart_of_the_server_is_got_over(chromium, five_presses):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    page = chromium.new_page()
    try:
        with started(port, five_presses):
            open_when_up(page, port)
            expect(page.locator(".press")).to_have_count(5)
        expect(page.locator(".offline")).to_be_visible(timeout=30_000)
        expect(page.locator(".press")).to_have_count(5)
        with started(port, five_presses):
            expect(page.locator(".offline")).to_be_hidden(timeout=60_000)
            page.get_by_role("link", name="D131", exact=True).click()
            expect(page.get_by_role("heading", name="D131 Hinge leaf left and right")).to_be_visible()
    finally:
        page.close()


@contextmanager
def started(port, root):
    """A server in a process of its own, which takes its connections with it when it ends."""
    process = subprocess.Popen([sys.executable, "-c", SERVER, str(port), str(root)], cwd=Path(__file__).parents[2])
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
