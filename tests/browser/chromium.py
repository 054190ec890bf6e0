"""The browser of the tests: that of this machine, or Playwright's own.

`python -m tests.browser.chromium` fetches one where there is none.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

from playwright.sync_api import Browser, Error, Playwright, sync_playwright

CHROMIUM = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("google-chrome")
FLAGS = (
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
_FETCH_S = 600


def launched(playwright: Playwright) -> Browser | None:
    """Return this machine's browser, or Playwright's own where it was fetched and starts; None where there is none."""
    if not CHROMIUM and not Path(playwright.chromium.executable_path).exists():
        return None
    try:
        return playwright.chromium.launch(executable_path=CHROMIUM, chromium_sandbox=False, args=FLAGS)
    except Error:
        if CHROMIUM:
            raise
        return None  # Something that it needs of the system is missing.


def fetch() -> None:
    """Fetch Playwright's browser, or else the system's package; say so where neither can be had, and go on."""
    if CHROMIUM or _starts():
        return
    for command in _ways():
        print("no browser: trying", " ".join(command), flush=True)
        try:
            subprocess.run(command, check=True, capture_output=True, timeout=_FETCH_S, stdin=subprocess.DEVNULL)
        except (OSError, subprocess.SubprocessError) as error:
            print(f"  {error}")
        else:
            return
    print("no browser can be had here: tests that need one are skipped")


def _starts() -> bool:
    with sync_playwright() as playwright:
        browser = launched(playwright)
        if browser:
            browser.close()
    return browser is not None


def _ways() -> list[list[str]]:
    own = [sys.executable, "-m", "playwright", "install", "chromium"]
    if not (shutil.which("apt-get") and os.geteuid() == 0):
        return [own]
    return [[*own, "--with-deps"], ["apt-get", "install", "-y", "-q", "--no-install-recommends", "chromium"]]


if __name__ == "__main__":
    fetch()
