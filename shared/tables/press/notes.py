"""The table `notes`, which people write on the screens; it is this project's own beside the plant's files."""

from __future__ import annotations

from shared.fields import Field, Kind, identifier
from shared.table import Table

TABLE = Table(
    "notes",
    "event",
    "What people wrote about a shift for those who come after. Written on the screens; a file may bring them as well.",
    key=("note_id",),
    required=("note_id", "time", "shift_date", "shift", "note"),
    optional=("press_id",),
    mentions={"press_id": ("presses",)},
    time="time",
    own=(
        identifier("note_id", "the note"),
        Field("shift_date", Kind.DATE, "", "date on which the shift it is about starts"),
        identifier("shift", "name of the shift it is about"),
        identifier("press_id", "the press it is about; empty = all of them"),
    ),
)
