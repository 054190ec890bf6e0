"""The input table `stops`."""

from __future__ import annotations

from shared.table import Table

TABLE = Table(
    "stops",
    "event",
    "Reasons people gave for standing time.",
    key=("press_id", "start_at"),
    required=("press_id", "start_at", "reason"),
    optional=("end_at",),
    refers={"press_id": ("presses",)},
    mentions={"reason": ("reasons",)},
    time="start_at",
    ordered=(("start_at", "end_at"),),
)
