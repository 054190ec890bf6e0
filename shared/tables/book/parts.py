"""The input table `parts`."""

from __future__ import annotations

from shared.table import Table

TABLE = Table(
    "parts",
    "book",
    "The parts made, with the weight of one finished piece.",
    key=("part_no",),
    required=("part_no", "net_weight_g"),
    optional=("name", "customer", "material", "thickness_mm", "revision"),
    mentions={"material": ("materials",)},
)
