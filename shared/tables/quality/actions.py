"""The table `actions`, written by the quality desk on the screens; this project's own beside the plant's files."""

from __future__ import annotations

from shared.fields import text, time
from shared.table import Table

TABLE = Table(
    "actions",
    "event",
    "What was done about a cause of rejects, in words for the customer. Written on the screens; a file may bring them.",
    key=("customer", "part_no", "cause", "week"),
    required=("customer", "part_no", "cause", "week", "written_at"),
    optional=("done",),
    refers={"part_no": ("parts",)},
    mentions={"cause": ("causes",)},
    time="written_at",
    own=(
        text("customer", "who the words are for; nobody else is told them"),
        text("week", "week of the report, such as 2026-W45"),
        text("done", "what was done; stands in the customer's report as it is written; empty = nothing is said"),
        time("written_at", "when it was written", to_the_day=True),
    ),
)
