"""The input table `reasons`."""

from __future__ import annotations

from shared.fields import text
from shared.table import Table

TABLE = Table(
    "reasons",
    "book",
    "Why a press stands, and whether such a stop counts in planned time.",
    key=("reason",),
    required=("reason", "kind"),
    optional=("name", "in_planned_time"),
    own=(
        text(
            "kind",
            "kind of stop",
            ("planned", "setup", "tooling", "material", "press", "quality", "labour", "other"),
        ),
    ),
)
