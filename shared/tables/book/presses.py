"""The input table `presses`."""

from __future__ import annotations

from shared.table import Table

TABLE = Table(
    "presses",
    "book",
    "The presses of the plant.",
    key=("press_id",),
    required=("press_id",),
    optional=("name", "area", "rated_spm", "rated_force_kn", "counter_modulus", "lead_in_mm", "stop_after_s"),
)
