"""A served plant and a real browser that is told on for console errors and for asking anybody else."""

from __future__ import annotations

import shutil
import threading
from pathlib import Path

import pytest
from playwright.sync_api import expect, sync_playwright
from waitress.server import create_server

from dashboards.assembly import assemble
from dashboards.ledger.service import LedgerService
from monitor.ledger import Ledger
from monitor.load.files import load
from tests.browser.chromium import launched
from tests.invented.five_presses import FivePresses
from tests.programs import skip

SAMPLE = Path(__file__).parents[2] / "sample_runs" / "fortnight"
#: What a browser says of requests that came while the server was not there.
AWAY = ("net::ERR_", "the server did not respond")


def pytest_collection_modifyitems(items):
    for item in items:
        if "tests/browser" in item.path.as_posix():
            item.add_marker(pytest.mark.browser)


class Served:
    """A dashboard behind an address of this computer."""

    def __init__(self, app, port=0):
        self._server = create_server(app.server, host="127.0.0.1", port=port, threads=8)
        self.url = f"http://127.0.0.1:{self._server.effective_port}"
        self._stopping = False
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self):
        try:
            self._server.run()
        except (OSError, ValueError):  # Its sockets may be closed while it waits for them.
            if not self._stopping:
                raise

    def stop(self):
        """End as a program does that is told to: answers under way are given, then every connection is closed."""
        self._stopping = True
        self._server.task_dispatcher.shutdown()
        self._server.close()
        for channel in list(self._server.active_channels.values()):
            channel.handle_close()
        self._thread.join(timeout=10)


def serving(root):
    service = LedgerService(root)
    served = Served(assemble(service))
    served.service = service
    yield served
    served.stop()


@pytest.fixture(scope="module")
def served(five_presses, tmp_path_factory):
    """The plant of five presses, of which a module has a copy to enter things into."""
    yield from serving(shutil.copytree(five_presses, tmp_path_factory.mktemp("served") / "ledger"))


@pytest.fixture(scope="module")
def served_empty(empty):
    yield from serving(empty)


@pytest.fixture(scope="module")
def served_crowd(tmp_path_factory):
    """Forty presses in the middle of their shift."""
    yield from serving(FivePresses(tmp_path_factory.mktemp("crowd"), "2026-11-02 17:00", fives=8).load())


@pytest.fixture(scope="session")
def sample_root(tmp_path_factory):
    """Folder of the sample's ledger, loaded once for all; who enters something takes a copy."""
    root = tmp_path_factory.mktemp("sample") / "ledger"
    with Ledger.open(root, create=True) as ledger:
        load([SAMPLE], ledger)
    return root


@pytest.fixture(scope="session")
def chromium():
    expect.set_options(timeout=20_000)
    with sync_playwright() as playwright:
        browser = launched(playwright) or skip("chromium")
        yield browser
        browser.close()


@pytest.fixture
def visit(chromium):
    """Open a page of a served plant; at the end no page may have complained or asked elsewhere."""
    contexts, faults = [], []

    def open_page(served, path="/", width=1280, height=900, scheme="light", restarts=False):
        context = chromium.new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
        contexts.append(context)
        page = context.new_page()
        away = AWAY if restarts else ()

        def told(message):
            if message.type in ("error", "warning") and not any(sign in message.text for sign in away):
                faults.append(message.text)

        page.on("console", told)
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("request", lambda r: None if r.url.startswith((served.url, "data:", "blob:")) else faults.append(r.url))
        page.goto(served.url + path)
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert faults == []
