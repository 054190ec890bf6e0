"""The input table `outs`."""

from __future__ import annotations

from shared.table import Table

TABLE = Table(
    "outs",
    "book",
    "What each piece of a stroke is; left out: the die's part, parting off at the last station.",
    key=("die_id", "out"),
    required=("die_id", "out", "part_no"),
    optional=("station",),
    refers={"die_id": ("dies",), "part_no": ("parts",)},
)
