"""The input table `routes`."""

from __future__ import annotations

from shared.table import Table

TABLE = Table(
    "routes",
    "book",
    "The dies a part goes through; more than one step: the strip is wound onto a reel between two.",
    key=("part_no", "step"),
    required=("part_no", "step", "die_id"),
    refers={"part_no": ("parts",), "die_id": ("dies",)},
)
