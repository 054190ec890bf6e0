"""The input table `complaints`."""

from __future__ import annotations

from shared.fields import time
from shared.table import Table

TABLE = Table(
    "complaints",
    "event",
    "What customers reported.",
    key=("complaint_id",),
    required=("complaint_id", "reported_at", "customer", "part_no", "pieces"),
    optional=("container_id", "shipment_id", "cause", "accepted", "closed_at"),
    refers={"part_no": ("parts",)},
    mentions={"container_id": ("containers",), "shipment_id": ("shipments",), "cause": ("causes",)},
    time="reported_at",
    ordered=(("reported_at", "closed_at"),),
    own=(time("closed_at", "when the complaint was closed", to_the_day=True, to_end=True),),
)
