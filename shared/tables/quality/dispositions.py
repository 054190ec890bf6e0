"""The input table `dispositions`."""

from __future__ import annotations

from shared.fields import text
from shared.table import Table

TABLE = Table(
    "dispositions",
    "event",
    "What became of rejected or setting pieces.",
    key=("disposition_id",),
    required=("disposition_id", "inspection_id", "time", "outcome", "pieces"),
    optional=("cause",),
    refers={"inspection_id": ("inspections",)},
    mentions={"cause": ("causes",)},
    time="time",
    own=(
        text(
            "outcome",
            "what became of the pieces",
            ("scrap", "rework", "use_as_is", "found_good", "return_to_supplier"),
        ),
    ),
)
