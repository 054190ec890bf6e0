"""Takes the pictures of every page for the manual, from the sample plant: `python -m tests.browser.shots [FOLDER]`."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from dashboards.app import build_app
from dashboards.pages import PAGES
from monitor.ledger import Ledger
from monitor.load.files import load
from tests.browser.chromium import CHROMIUM, FLAGS
from tests.browser.conftest import SAMPLE, Served

WIDTH, HEIGHT = 1440, 900

#: Pages whose telling part lies further down.
HEIGHTS = {"/bench": 1400, "/week": 1400}

#: A telling view of each page; a page that is not named here is shown as it opens.
VIEWS = {
    "/": "/?date=2026-10-22&shift=Early",
    "/coils": "/coils?press=P2&since=2026-10-19&until=2026-10-31",
    "/trace": "/trace?scope=coil&value=C-20208",
    "/bench": "/bench?die=D-114&cause=CRK&since=2026-10-19&until=2026-10-31",
    "/week": "/week?customer=Customer+B&week=2026-W44",
    "/die": "/die?die=D-114&since=2026-10-26&until=2026-10-31",
    "/handover": "/handover?date=2026-10-28&shift=Early",
    "/shift": "/shift?press=P1&date=2026-10-28&shift=Early",
}


def main(folder: Path) -> None:
    """Load the sample, open every page and save a picture of each."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as held, Ledger.open(Path(held) / "ledger", create=True) as ledger:
        load([SAMPLE], ledger)
        served = Served(build_app(ledger.root))
        try:
            _take_all(served.url, folder)
        finally:
            served.stop()


def _take_all(url: str, folder: Path) -> None:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, chromium_sandbox=False, args=FLAGS)
        for shown in PAGES:
            page = browser.new_page(viewport={"width": WIDTH, "height": HEIGHTS.get(shown.path, HEIGHT)})
            page.set_default_timeout(120_000)
            page.goto(url + VIEWS.get(shown.path, shown.path))
            page.wait_for_load_state("networkidle", timeout=120_000)
            page.wait_for_timeout(3_000)  # Charts and fields are drawn after the last answer has come.
            page.screenshot(path=folder / f"{shown.name.lower()}.png")
            page.close()
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[2] / "docs")
