"""The input table `reels`."""

from __future__ import annotations

from shared.table import Table

TABLE = Table(
    "reels",
    "material",
    "Strip wound on a press between two times; fed last wound first, turned again by each rewind.",
    key=("reel_id",),
    required=("reel_id", "press_id", "started_at", "ended_at"),
    optional=("rewinds", "from_reel", "from_m", "to_m"),
    refers={"press_id": ("presses",)},
    mentions={"from_reel": ("reels",)},
    time="started_at",
    moments=("started_at", "ended_at"),
    exact=True,
    ordered=(
        ("started_at", "ended_at"),
        ("from_m", "to_m"),
    ),
)
