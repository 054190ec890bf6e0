"""The input table `dies`."""

from __future__ import annotations

from shared.table import Table

TABLE = Table(
    "dies",
    "book",
    "The progressive dies.",
    key=("die_id",),
    required=("die_id", "pitch_mm", "parts_per_stroke", "rated_spm"),
    optional=("name", "strip_width_mm", "sharpen_every_strokes"),
)
