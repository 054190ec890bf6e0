"""The input table `orders`."""

from __future__ import annotations

from shared.fields import time
from shared.table import Table

TABLE = Table(
    "orders",
    "event",
    "What is to be made.",
    key=("order_id",),
    required=("order_id", "part_no", "quantity"),
    optional=("press_id", "start_at", "due_at"),
    refers={"part_no": ("parts",)},
    mentions={"press_id": ("presses",)},
    time="start_at",
    own=(time("start_at", "when it is to begin", to_the_day=True, planned=True),),
)
