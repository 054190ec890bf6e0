"""Inspections of one die, and looks at them, from the few columns that matter at the bench."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import pandas as pd

from monitor.figures.judgement.bench import PlantLook
from monitor.reckoning.attribution.advice import Advice, Contrast
from monitor.reckoning.attribution.suspects import Suspect
from shared.factors import Explanation, Level
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


def named(factor: str, name: str) -> Explanation:
    """A level of a factor that is a name."""
    return Explanation(factor, (Level("is", name),))


def curve(factor: str, *levels: Level) -> Explanation:
    """What curves tell together."""
    return Explanation(factor, levels)


def suspect(cause: str, verdict: str, explanation: Explanation, pieces: float = np.nan) -> Suspect:
    """One line of the verdict on die D1."""
    return Suspect(
        die_id="D1",
        cause=cause,
        explanation=explanation,
        rate_ratio=2.0,
        ratio_low=1.6,
        ratio_high=2.5,
        pieces_explained=pieces,
        explained_low=pieces / 2,
        explained_high=pieces * 2,
        false_alarm=0.001,
        verdict=verdict,
        tied_with=(),
        stations=(1, 4),
        inspected=1000,
        rejected=20,
        next_test=Advice("another_press", (explanation,), contrast=Contrast(0.01, 0.02, None)),
    )


def seen(rows: list[dict[str, Any]], lines: Iterable[Suspect] = (), services: Any = ()) -> PlantLook:
    """A look that holds these inspections of die D1 and these lines."""
    return PlantLook(
        7, "", to="", book=BOOK, rows={"D1": pd.DataFrame(rows)}, lines=tuple(lines), services=tuple(services)
    )


def steady(coils: int, checks: int = 4, inspected: int = 1000, burrs: int = 10) -> list[dict[str, Any]]:
    """Coils of so many inspections each, two coils a lot, all alike."""
    return [
        check(coil * checks + number, f"C{coil}", f"L{coil // 2}", inspected, burrs)
        for coil in range(coils)
        for number in range(checks)
    ]
