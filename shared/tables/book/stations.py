"""The input table `stations`."""

from __future__ import annotations

from shared.table import Table

TABLE = Table(
    "stations",
    "book",
    "The places of work in a die, idle ones included; the highest number is the length of the die.",
    key=("die_id", "station"),
    required=("die_id", "station", "operation"),
    optional=("clearance_pct", "grind_life_mm", "note"),
    refers={"die_id": ("dies",)},
)
