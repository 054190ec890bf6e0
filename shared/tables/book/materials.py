"""The input table `materials`."""

from __future__ import annotations

from shared.table import Table

TABLE = Table(
    "materials",
    "book",
    "Grades of metal and their density.",
    key=("material",),
    required=("material", "density_kg_m3"),
)
