"""How long the bench page takes for a year of one die: 400 lots, 1200 coils, 30 causes, an inspection an hour.

Prints seconds of the processor for the look at the plant, the case, the page, and the evidence sheet.
"""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable

import numpy as np
import pandas as pd

from dashboards.pages.bench.model import load_bench
from dashboards.pages.bench.view import bench_html
from dashboards.request.url import View
from monitor.figures.judgement.analysis import verdict_lines
from monitor.figures.judgement.bench import PlantLook
from monitor.plant.book import Book
from monitor.report.evidence.sheet import EvidenceQuery, evidence, sheet_pdf
from monitor.report.files import Branding
from shared.calendar import Calendar
from shared.plant import ReportStyle
from shared.words import ENGLISH
from tests.figures.given import START_US, book

LOTS, COILS, CAUSES, CHECKS, PIECES = 400, 1200, 30, 6000, 2500
HOUR = 3_600_000_000
BAD_LOT, WORN = 200, 300_000.0


def year(seed: int = 3) -> tuple[Book, pd.DataFrame]:
    """Inspections of a year: one bad lot for the first cause, wear for the second, lots and coils alike otherwise."""
    rng = np.random.default_rng(seed)
    at = np.arange(CHECKS)
    coil = at * COILS // CHECKS
    lot = coil * LOTS // COILS
    worn = (at * PIECES) % WORN
    begin = START_US + at * HOUR
    rows = pd.DataFrame(
        {
            "inspection_id": [f"I{n}" for n in at], "kind": "full", "press_id": np.where(at // 400 % 2, "P1", "P2"),
            "mounting_id": [f"C{n}" for n in coil], "out": 1, "from_us": begin, "to_us": begin + HOUR,
            "inspected": PIECES, "coil_id": [f"C{n}" for n in coil], "lot": [f"LOT-{n:04d}" for n in lot],
            "heat": [f"H{n // 2}" for n in lot], "supplier": np.where(lot % 3, "A", "B"),
            "setup_id": [f"P1 set {n}" for n in at // 400], "day": begin / 24 / HOUR,
            "shift": np.array(["early", "late", "night"])[at // 8 % 3], "head_m": 10.0 + at % 5 * 150,
            "tail_m": 760.0 - at % 5 * 150, "strokes_since_set": np.minimum(at % 400 * PIECES, 25_000.0),
            "strokes_since_sharpening": worn, "speed_spm": 60 + rng.normal(0, 1, CHECKS),
            "cert_yield_mpa": 210 + lot % 17, "cert_hardness_hv": 105 + lot % 11,
        }
    )  # fmt: skip
    scatter = np.exp(rng.normal(0, 0.2, LOTS))[lot]
    for number in range(CAUSES):
        rate = 0.001 * scatter * np.where((number == 0) & (lot == BAD_LOT), 5, 1)
        rate = rate * np.exp(np.where(number == 1, 1.4 * worn / WORN, 0))
        rows[f"found_K{number:02d}"] = rng.poisson(rate * PIECES).astype(float)
    stations = [{"die_id": "D1", "station": n, "operation": "pierce"} for n in range(1, 13)]
    causes = [{"cause": f"K{n:02d}", "name": f"cause {n}", "operations": "pierce"} for n in range(CAUSES)]
    return book(stations=stations, causes=causes), rows


class Year:
    """What the page asks of a reading, over one look."""

    version = 1

    def __init__(self, seen: PlantLook, service: pd.DataFrame) -> None:
        self.seen, self.service = seen, service
        self.kept: dict[tuple[str, ...], object] = {}

    def look(self, from_: str, to: str) -> PlantLook:
        return self.seen

    def station_service(self, seen: PlantLook, die: str) -> pd.DataFrame:
        return self.service

    def names(self, table: str, day: dt.date | None = None) -> dict[str, str]:
        return {"dies": {"D1": "Bracket"}}.get(table, {})

    def figure(self, name: str, *asked: str, **only: str) -> pd.DataFrame:
        return pd.DataFrame()

    def press_states(self) -> pd.DataFrame:
        return pd.DataFrame({"last_reading_us": [1_815_091_200_000_000]})

    def calendar(self) -> Calendar:
        return self.seen.book.calendar

    def cached(self, question: tuple[str, ...], load: Callable[[], object]) -> object:
        if question not in self.kept:
            self.kept[question] = load()
        return self.kept[question]


def timed(name: str, work: Callable[[], object]) -> object:
    before = time.process_time()
    found = work()
    print(f"{name:<34}{time.process_time() - before:7.2f} s")
    return found


def main() -> None:
    plant, rows = year()
    lines = timed("30 causes judged", lambda: verdict_lines({"D1": rows}, plant))
    names = ("strokes_since_sharpening", "sharpen_every_strokes", "economic_interval", "expected_due_at")
    service = pd.DataFrame({"die_id": "D1", "station": pd.array(range(1, 13), dtype="Int64"), **dict.fromkeys(names)})
    seen = PlantLook(1, "", to="", book=plant, rows={"D1": rows}, lines=lines, services=())
    reading, view = Year(seen, service), View(die="D1", cause="K00")
    shown = timed("one die and cause, first time", lambda: load_bench(reading, view))
    timed("its page drawn", lambda: bench_html(shown, dark=False))
    timed("the same asked again", lambda: load_bench(reading, view))
    found = timed("another cause", lambda: load_bench(reading, View(die="D1", cause="K01")))
    timed("its page drawn", lambda: bench_html(found, dark=False))
    told = evidence(seen, service, EvidenceQuery("D1", "K00"), START_US)
    timed("evidence sheet", lambda: sheet_pdf(told, {}, Branding(ReportStyle()), ENGLISH))


if __name__ == "__main__":
    main()
