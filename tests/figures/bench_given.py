"""Inspections of one die, and looks at them, from the few columns that matter at the bench."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from monitor.figures.judgement.bench import PlantLook
from monitor.reckoning.attribution.suspects import COLUMNS
from tests.figures.given import START_US, book

HOUR = 3_600_000_000
BOOK = book(
    stations=[
        {"die_id": "D1", "station": 1, "operation": "pierce"},
        {"die_id": "D1", "station": 2, "operation": "idle"},
        {"die_id": "D1", "station": 3, "operation": "bend"},
        {"die_id": "D1", "station": 4, "operation": "cutoff"},
    ],
    causes=[
        {"cause": "BUR", "name": "burr", "operations": "pierce;cutoff"},
        {"cause": "CRK", "name": "crack", "operations": "bend"},
    ],
)


def check(number: int, coil: str, lot: str, inspected: int, burrs: int, **other: Any) -> dict[str, Any]:
    """One inspection that lies in one coil, an hour after the one before it."""
    begin = START_US + number * HOUR
    usual = {
        "inspection_id": f"I{number}", "kind": "full", "press_id": "P1", "mounting_id": coil, "out": 1,
        "from_us": begin, "to_us": begin + HOUR, "inspected": inspected, "found_BUR": float(burrs), "coil_id": coil,
        "lot": lot, "heat": "", "supplier": "", "setup_id": "P1 set", "day": begin / 24 / HOUR, "shift": "early",
    }  # fmt: skip
    return usual | other


def suspect(cause: str, verdict: str, factor: str, level: str, pieces: float = np.nan) -> dict[str, Any]:
    """One line of the verdict on die D1."""
    return {
        "die_id": "D1", "cause": cause, "verdict": verdict, "factor": factor, "level": level,
        "pieces_explained": pieces, "explained_low": pieces / 2, "explained_high": pieces * 2, "rate_ratio": 2.0,
        "ratio_low": 1.6, "ratio_high": 2.5, "false_alarm": 0.001, "tied_with": "", "stations": "1;4",
        "inspected": 1000, "rejected": 20, "next_test": "Run the same coil on another press and on this one: the more "
        "pieces the better.",
    }  # fmt: skip


def seen(rows: list[dict[str, Any]], lines: list[dict[str, Any]] | None = None, services: Any = ()) -> PlantLook:
    """A look that holds these inspections of die D1 and these lines."""
    table = pd.DataFrame(lines or [], columns=list(COLUMNS))
    return PlantLook(7, "", to="", book=BOOK, rows={"D1": pd.DataFrame(rows)}, suspects=table, services=tuple(services))


def steady(coils: int, checks: int = 4, inspected: int = 1000, burrs: int = 10) -> list[dict[str, Any]]:
    """Coils of so many inspections each, two coils a lot, all alike."""
    return [
        check(coil * checks + number, f"C{coil}", f"L{coil // 2}", inspected, burrs)
        for coil in range(coils)
        for number in range(checks)
    ]
