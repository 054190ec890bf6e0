"""The input table `coil_tests`."""

from __future__ import annotations

from shared.table import Table

TABLE = Table(
    "coil_tests",
    "material",
    "Tests of a coil, from its certificate or our own.",
    key=("coil_id", "property", "source", "position_m"),
    required=("coil_id", "property", "value", "unit", "source"),
    optional=("position_m",),
    refers={"coil_id": ("coils",)},
)
