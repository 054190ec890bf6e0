"""The input table `coil_changes`."""

from __future__ import annotations

from shared.fields import identifier, number, text
from shared.table import Table

TABLE = Table(
    "coil_changes",
    "event",
    "What is done to the strip on a press; joint = a mill weld, cut = cut back and threaded again.",
    key=("press_id", "time", "event"),
    required=("time", "press_id", "event", "coil_id"),
    optional=("weight_kg", "lost_m"),
    refers={"press_id": ("presses",), "coil_id": ("coils", "reels")},
    time="time",
    moments=("time",),
    own=(
        text("event", "what happened to the strip", ("mount", "splice", "joint", "cut", "remove")),
        identifier("coil_id", "a coil or a reel"),
        number("weight_kg", "kg", "weight of strip weighed then", 0, 200_000),
    ),
)
