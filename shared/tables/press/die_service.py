"""The input table `die_service`."""

from __future__ import annotations

from shared.table import Table

TABLE = Table(
    "die_service",
    "event",
    "Work on a die; an empty station means all cutting stations.",
    key=("die_id", "time", "work", "station"),
    required=("time", "die_id", "work"),
    optional=("station", "removed_mm", "die_strokes", "note"),
    refers={"die_id": ("dies",)},
    time="time",
)
