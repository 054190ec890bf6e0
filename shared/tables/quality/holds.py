"""The input table `holds`."""

from __future__ import annotations

from shared.fields import identifier, text
from shared.table import Table

TABLE = Table(
    "holds",
    "event",
    "Material or pieces that may not be used for now.",
    key=("hold_id",),
    required=("hold_id", "placed_at", "scope", "value", "reason"),
    optional=("lifted_at", "from", "to", "outcome"),
    time="placed_at",
    ordered=(
        ("placed_at", "lifted_at"),
        ("from", "to"),
    ),
    own=(
        text("scope", "what is held", ("coil", "lot", "heat", "die", "container", "range")),
        identifier("value", "which coil, lot, heat, die or container; for a range, the press"),
        text("reason", "why it is held, free text"),
        text("outcome", "how the hold ended, free text"),
    ),
)
