"""The input table `die_changes`."""

from __future__ import annotations

from shared.fields import text
from shared.table import Table

TABLE = Table(
    "die_changes",
    "event",
    "What is done to the die in a press.",
    key=("press_id", "time", "event"),
    required=("time", "press_id", "event", "die_id"),
    optional=("part_no", "order_id", "outs_running"),
    refers={"press_id": ("presses",), "die_id": ("dies",)},
    mentions={"part_no": ("parts",), "order_id": ("orders",)},
    time="time",
    moments=("time",),
    own=(text("event", "what happened to the die", ("set", "first_off", "change", "last_off", "pull")),),
)
