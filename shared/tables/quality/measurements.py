"""The input table `measurements`."""

from __future__ import annotations

from shared.table import Table

TABLE = Table(
    "measurements",
    "event",
    "Measured values, in subgroups of pieces.",
    key=("part_no", "characteristic", "time", "piece"),
    required=("time", "press_id", "part_no", "characteristic", "piece", "value"),
    optional=("out",),
    refers={"press_id": ("presses",), "part_no": ("parts",)},
    mentions={"characteristic": ("characteristics",)},
    time="time",
    logged=True,
)
