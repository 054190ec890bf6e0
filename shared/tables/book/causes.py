"""The input table `causes`."""

from __future__ import annotations

from shared.table import Table

TABLE = Table(
    "causes",
    "book",
    "What can be wrong with a piece, which operations can make it and where it comes from.",
    key=("cause",),
    required=("cause",),
    optional=("name", "operations", "origin"),
)
