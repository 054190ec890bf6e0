"""Published figures that come with the product, each with its source beside it."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib import resources


@dataclass(frozen=True)
class Density:
    """Density of a grade [kg/m3], the range its sources give, and the source."""

    density_kg_m3: float
    low_kg_m3: float
    high_kg_m3: float
    source: str


@dataclass(frozen=True)
class Gauge:
    """Thickness [in] and weight [lb/ft2] of a sheet-steel gauge number, and the source."""

    thickness_in: float
    weight_lb_ft2: float
    source: str


def _rows(name: str) -> Iterator[dict[str, str]]:
    text = resources.files(__name__).joinpath(name).read_text(encoding="utf-8")
    return csv.DictReader(text.splitlines())


@cache
def densities() -> dict[str, Density]:
    """Densities by the name of the grade; used where the plant's own `materials` does not name it."""
    return {
        row["material"]: Density(
            float(row["density_kg_m3"]), float(row["low_kg_m3"]), float(row["high_kg_m3"]), row["source"]
        )
        for row in _rows("densities.csv")
    }


@cache
def gauges() -> dict[int, Gauge]:
    """Sheet-steel gauges by number; other metals use other gauge systems."""
    return {
        int(row["gauge"]): Gauge(float(row["thickness_in"]), float(row["weight_lb_ft2"]), row["source"])
        for row in _rows("gauges.csv")
    }
