"""The input table `containers`."""

from __future__ import annotations

from shared.fields import count
from shared.table import Table

TABLE = Table(
    "containers",
    "event",
    "Tubs and boxes filled at a press.",
    key=("container_id",),
    required=("container_id", "part_no", "press_id", "opened_at"),
    optional=("closed_at", "quantity", "out"),
    refers={"part_no": ("parts",), "press_id": ("presses",)},
    time="opened_at",
    ordered=(("opened_at", "closed_at"),),
    moments=("opened_at", "closed_at"),
    exact=True,
    own=(count("quantity", "pieces", "good pieces counted into it when it was closed", 0),),
)
