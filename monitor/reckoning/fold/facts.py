"""Facts as rows: tuples without press and day, in the order of `shared.facts`."""

from __future__ import annotations

from monitor.reckoning.press.carry import Carry, Label
from monitor.reckoning.press.changes import MountNote

Row = tuple[object, ...]
Facts = dict[str, list[Row]]

#: Kinds of fact that a fold leaves.
KINDS = ("time", "strokes", "pieces", "stops", "unresolved", "mounts", "glitches")


def label_row(label: Label) -> Row:
    """Return a label as the columns it fills in a fact."""
    return (
        label.shift_date,
        label.shift,
        label.hour_us,
        label.die_id,
        label.part_no,
        label.order_id,
        int(label.setup),
    )


def note_row(note: MountNote, carry: Carry) -> Row:
    """Return the fact of what a coil change says of a mounting."""
    return (
        note.mounting_id,
        note.coil_id,
        carry.die.die_id if carry.die else "",
        note.mounted_us,
        note.removed_us,
        note.start_weighed_kg,
        note.end_weighed_kg,
        None,
        0,
        0,
        note.lost_mm,
    )
