"""The input table `inspections`."""

from __future__ import annotations

from shared.fields import text
from shared.table import Table

TABLE = Table(
    "inspections",
    "event",
    "Pieces looked at and pieces rejected, a row for each cause.",
    key=("inspection_id", "cause"),
    required=("inspection_id", "time", "press_id", "kind", "rejected"),
    optional=(
        "inspected",
        "cause",
        "container_id",
        "part_no",
        "out",
        "made_from",
        "made_to",
        "rechecks",
        "scope",
        "used_up",
    ),
    refers={"press_id": ("presses",)},
    mentions={
        "cause": ("causes",),
        "container_id": ("containers",),
        "part_no": ("parts",),
        "rechecks": ("inspections",),
    },
    time="time",
    ordered=(("made_from", "made_to"),),
    moments=("time", "made_from", "made_to"),
    exact=True,
    own=(
        text(
            "kind",
            "sample = some pieces, full = every piece, tub = reject tub counted",
            ("sample", "full", "tub"),
        ),
        text("scope", "which pieces of the earlier inspection were looked at", ("all", "passed", "rejected")),
    ),
)
