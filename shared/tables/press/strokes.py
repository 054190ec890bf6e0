"""The input table `strokes`."""

from __future__ import annotations

from shared.table import Table

TABLE = Table(
    "strokes",
    "event",
    "Readings of the press counters.",
    key=("press_id", "time"),
    required=("time", "press_id", "counter"),
    optional=("feeds",),
    refers={"press_id": ("presses",)},
    time="time",
    logged=True,
)
