"""How a year of forty presses is served: callbacks, the first paint of the Board, fifty viewers; run by `make bench`.

The server is a process of its own, so that its processor time is its own too.  A callback counts as answered when its
last byte is here.  Asked first means that nobody had asked for it before: everything is worked out from the ledger.
"""

from __future__ import annotations

import argparse
import datetime as dt
import gzip
import json
import os
import random
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from functools import cache, partial
from http.client import HTTPConnection
from pathlib import Path
from typing import Any

import numpy as np
from playwright.sync_api import sync_playwright
from waitress.server import create_server

from dashboards.app import lasting_app
from monitor.ledger import Ledger
from shared.calendar import Calendar
from shared.plant import Plant
from tests.benchmarks.served_year import DAYS, MODEL, write_year
from tests.browser.chromium import CHROMIUM, FLAGS

VIEWERS, EVERY_S, WATCHED_S = 50, 5.0, 60.0
HERTZ = os.sysconf("SC_CLK_TCK")


def main() -> None:
    """Write the year, serve it, and print what was measured."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=DAYS)
    parser.add_argument("--ledger", type=Path)
    parser.add_argument("--serve", action="store_true", help="be the server of --ledger")
    options = parser.parse_args()
    if options.serve:
        serve(options.ledger)
        return
    with tempfile.TemporaryDirectory() as scratch:
        root = options.ledger or Path(scratch) / "ledger"
        if not root.exists():
            begun = time.perf_counter()
            write_year(root, options.days)
            print(f"{options.days} days of 40 presses written in {time.perf_counter() - begun:.0f} s")
        with served(root) as (port, process):
            measure(root, port, process, options.days)


def measure(root: Path, port: int, process: int, days: int) -> None:
    """Print each figure."""
    _callbacks(port)
    begun = time.perf_counter()
    board(port, "")
    print(f"Board of the running shift, asked first: {1000 * (time.perf_counter() - begun):.0f} ms")
    print(f"Board of the running shift, asked again: {_told(timed(board, port, [''] * 40))}")
    chosen = random.Random(7)
    shifts = [f"?date={MODEL - dt.timedelta(days=chosen.randint(1, days - 2))}&shift=Early" for _ in range(12)]
    print(f"Board of a shift long ago, asked first: {_told(timed(board, port, shifts))}")
    weeks = [_week(chosen, days) for _ in range(12)]
    print(f"Die over a week, asked first: {_told(timed(die, port, weeks))}")
    print(f"Die over a week, asked again: {_told(timed(die, port, weeks * 3))}")
    ago = [MODEL - dt.timedelta(days=chosen.randint(1, days - 2)) for _ in range(8)]
    for path, searches in _pages(chosen, ago):
        print(f"{path} opened for the first time: {_told(timed(partial(opened, path), port, searches))}")
    for path, body, searches in _bodies(chosen, ago):
        print(f"{path} drawn for the first time: {_told(timed(partial(drawn, body), port, searches))}")
    if CHROMIUM:
        print(f"Board in a browser: {painted(port)}")
    viewers(root, port, process)


def _pages(chosen: random.Random, ago: list[dt.date]) -> list[tuple[str, list[str]]]:
    """Pages that come whole, and what is asked of them."""
    return [
        ("/shift", [f"?press=P{chosen.randint(1, 40):02d}&date={date}&shift=Early" for date in ago]),
        ("/handover", [f"?date={date}&shift=Early" for date in ago]),
    ]


def _bodies(chosen: random.Random, ago: list[dt.date]) -> list[tuple[str, str, list[str]]]:
    """Pages that draw their body in a callback of their own, and what is asked of them."""
    ranges = [f"since={date - dt.timedelta(days=6)}&until={date}" for date in ago]
    return [
        ("/coils", "coils-body.children", [f"?{days}" for days in ranges[:3]]),
        ("/bench", "bench-body.children", [f"?die=D-{chosen.randint(101, 140)}&{days}" for days in ranges[:3]]),
        ("/trace", "trace-body.children", [f"?scope=coil&value=C-{chosen.randint(1, 90)}~{1 + at}" for at in range(8)]),
    ]


def _week(chosen: random.Random, days: int) -> str:
    until = MODEL - dt.timedelta(days=chosen.randint(0, max(1, days - 8)))
    return f"?die=D-{chosen.randint(101, 140)}&since={until - dt.timedelta(days=6)}&until={until}"


def timed(ask: Callable[[int, str], bytes], port: int, searches: list[str]) -> list[float]:
    """Milliseconds that each answer took."""
    took = []
    for search in searches:
        begun = time.perf_counter()
        ask(port, search)
        took.append(1000 * (time.perf_counter() - begun))
    return took


def _told(took: list[float]) -> str:
    middle, high = np.percentile(took, [50, 95])
    return f"median {middle:.0f} ms, p95 {high:.0f} ms of {len(took)}"


def board(port: int, search: str, stamp: str = "") -> bytes:
    """Ask for the Board as its clock does: the answer as it was sent, nothing where nothing is new."""
    return _callback(port, "board-body.children", {"board-url.search": search, "board-stamp.data": stamp})


def die(port: int, search: str) -> bytes:
    """Ask for the charts and tables of a die."""
    return _callback(port, "die-body.children", {"die-url.search": search, "shell-theme.data": "light"})


def opened(path: str, port: int, search: str) -> bytes:
    """Ask for a page as a browser that goes to it."""
    return _callback(port, "shell-page.children", {"shell-url.pathname": path, "shell-url.search": search})


def drawn(body: str, port: int, search: str) -> bytes:
    """Ask for the body of a page."""
    page = body.partition("-")[0]
    return _callback(port, body, {f"{page}-url.search": search, "shell-theme.data": "light"})


def _callback(port: int, output: str, values: dict[str, str]) -> bytes:
    """Answer of the callback that fills a part of a page; what `values` do not name is null."""
    known = next(one for one in _callbacks(port) if output in one["output"])
    outputs = [_part(name) for name in known["output"].strip(".").split("...")]
    asked = {
        "output": known["output"],
        "outputs": outputs if known["output"].startswith("..") else outputs[0],
        "inputs": [one | {"value": values.get(f"{one['id']}.{one['property']}")} for one in known["inputs"]],
        "state": [one | {"value": values.get(f"{one['id']}.{one['property']}")} for one in known["state"]],
        "changedPropIds": [f"{known['inputs'][0]['id']}.{known['inputs'][0]['property']}"],
    }
    status, body = _fetched(port, "POST", "/_dash-update-component", json.dumps(asked))
    if status >= 400:
        raise RuntimeError(f"{output} answered {status}")
    return body


@cache
def _callbacks(port: int) -> list[dict[str, Any]]:
    return json.loads(gzip.decompress(_fetched(port, "GET", "/_dash-dependencies", "")[1]))  # type: ignore[no-any-return]


def _part(name: str) -> dict[str, str]:
    one, _, what = name.rpartition(".")
    return {"id": one, "property": what}


def _fetched(port: int, verb: str, path: str, body: str) -> tuple[int, bytes]:
    connection = HTTPConnection("127.0.0.1", port, timeout=300)
    connection.request(verb, path, body, {"Content-Type": "application/json", "Accept-Encoding": "gzip"})
    answer = connection.getresponse()
    read = answer.status, answer.read()
    connection.close()
    return read


def painted(port: int) -> str:
    """First paint, and the moment the presses stand on the Board, in a browser that has been here before."""
    took = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, chromium_sandbox=False, args=FLAGS)
        context = browser.new_context(viewport={"width": 1920, "height": 1080})
        for _ in range(4):
            page = context.new_page()
            page.goto(f"http://127.0.0.1:{port}/")
            page.wait_for_selector(".press")
            paint = page.evaluate("performance.getEntriesByName('first-contentful-paint')[0].startTime")
            took.append((paint, page.evaluate("performance.now()")))
            page.close()
        browser.close()
    first, (paint, shown) = took[0], np.median(took[1:], axis=0)
    return f"first paint {paint:.0f} ms, presses shown {shown:.0f} ms (never been here: {first[0]:.0f}, {first[1]:.0f})"


def viewers(root: Path, port: int, process: int) -> None:
    """Fifty viewers ask every five seconds, while a new version comes in the middle of it."""
    took: list[float] = []
    before, begun = _cpu_s(process), time.perf_counter()
    with ThreadPoolExecutor(VIEWERS) as pool:
        watching = [pool.submit(_watch, port, seat * EVERY_S / VIEWERS, took) for seat in range(VIEWERS)]
        time.sleep(WATCHED_S / 2)
        with Ledger.open(root) as ledger, ledger.writer(Calendar(Plant(timezone="UTC"))) as writer:
            writer.put_note("benchmark", str(time.time()))
            writer.finish_load(writer.begin_load("again", "coils", f"{time.time_ns():064d}", 0))
        for one in watching:
            one.result()
    elapsed = time.perf_counter() - begun
    print(f"{VIEWERS} viewers over {elapsed:.0f} s with one new version: {_told(took)},")
    print(f"  {(_cpu_s(process) - before) / elapsed:.2f} cores")


def _watch(port: int, wait_s: float, took: list[float]) -> None:
    time.sleep(wait_s)
    stamp = ""
    until = time.perf_counter() + WATCHED_S
    while time.perf_counter() < until:
        begun = time.perf_counter()
        body = board(port, "", stamp)
        took.append(1000 * (time.perf_counter() - begun))
        stamp = json.loads(gzip.decompress(body))["response"]["board-stamp"]["data"] if body else stamp
        time.sleep(max(0.0, EVERY_S - (time.perf_counter() - begun)))


def _cpu_s(process: int) -> float:
    fields = Path(f"/proc/{process}/stat").read_text("ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / HERTZ


@contextmanager
def served(root: Path) -> Iterator[tuple[int, int]]:
    """A server of a ledger in a process of its own: port and process number."""
    command = [sys.executable, "-m", "tests.benchmarks.serving", "--serve", "--ledger", str(root)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server:
        assert server.stdout
        try:
            yield int(server.stdout.readline()), server.pid
        finally:
            server.terminate()


def serve(root: Path) -> None:
    """Serve a ledger at a port the system chooses, and say which."""
    server = create_server(lasting_app(root).server, host="127.0.0.1", port=0, threads=16)
    print(server.effective_port, flush=True)
    thread = threading.Thread(target=server.run)
    thread.start()
    thread.join()


if __name__ == "__main__":
    main()
