"""What the questions ask of a plant, and the days they speak of."""

from __future__ import annotations

import datetime as dt
from typing import Any

from monitor.figures import figure
from tests.invented.tiny import Tiny

MONDAY, TUESDAY, THURSDAY, SATURDAY = (dt.date(2026, 11, day) for day in (2, 3, 5, 7))

MIDNIGHT_US = int(dt.datetime.combine(MONDAY, dt.time(), dt.UTC).timestamp()) * 1_000_000


def inside(plant: Tiny, name: str) -> dict[str, int]:
    table = figure(plant.ledger, "trace")
    rows = table[table["container_id"] == name]
    return dict(zip(rows["coil_id"], rows["pieces"].tolist(), strict=True))


def total(plant: Tiny, *names: str, **filters: Any) -> tuple[int, ...]:
    table = figure(plant.ledger, "shifts", **filters)
    return tuple(int(table[name].sum()) for name in names)
