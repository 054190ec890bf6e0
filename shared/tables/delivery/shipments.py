"""The input table `shipments`."""

from __future__ import annotations

from shared.table import Table

TABLE = Table(
    "shipments",
    "event",
    "Containers sent to a customer.",
    key=("shipment_id", "container_id"),
    required=("shipment_id", "container_id", "shipped_at"),
    optional=("customer",),
    refers={"container_id": ("containers",)},
    time="shipped_at",
)
