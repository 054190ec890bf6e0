"""The input table `characteristics`."""

from __future__ import annotations

from shared.table import Table

TABLE = Table(
    "characteristics",
    "book",
    "What is measured on a part, and its limits.",
    key=("part_no", "characteristic"),
    required=("part_no", "characteristic"),
    optional=("nominal", "lower", "upper", "unit", "key"),
    refers={"part_no": ("parts",)},
    # A fit has both limits on one side of its nominal value.
    ordered=(("lower", "upper"),),
)
