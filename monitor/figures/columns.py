"""Columns that several figures have; a column of one figure alone is defined in that figure's module."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from shared.fields import FIELDS, Field, Kind, count, number, text, time

_SHARED = (
    Field("shift_date", Kind.DATE, "", "date on which the shift starts"),
    text("shift", "name of the shift"),
    time("mounted_at", "when the coil went on the press"),
    time("removed_at", "when the coil came off the press"),
    number("running_s", "s", "time in which the press strokes", 0),
    number("unresolved_s", "s", "planned time in which nobody saw whether it did: the readings lie too far apart", 0),
    count("strokes", "strokes", "strokes of the press"),
    count("pieces", "pieces", "pieces that left the die"),
    count("setup_pieces", "pieces", "pieces made before first-off and not released"),
    count("rejected", "pieces", "pieces rejected and neither reworked nor found good"),
    count("good", "pieces", "pieces neither rejected, reworked nor made while setting"),
    count("inspected", "pieces", "pieces looked at"),
    count("shipped", "pieces", "pieces sent to the customer, each once"),
    number("rate", "1", "rejected over inspected; for tub counts over pieces made", 0, 1),
    number("rate_low", "1", "lower end of the 95 % interval of the rate", 0, 1),
    number("rate_high", "1", "upper end of the 95 % interval of the rate", 0, 1),
    number("used_m", "m", "strip used", 0),
    number("used_kg", "kg", "strip used", 0),
    number("overrun_m", "m", "strip used beyond the coil's length: a change was not noted", 0),
    number("good_kg", "kg", "good and reworked pieces", 0),
    number("skeleton_kg", "kg", "skeleton and slugs: strip less net weight, designed in", 0),
    number("unfinished_kg", "kg", "progressions left in the die, strip cut away, strip that waits for its last die", 0),
    number("setup_kg", "kg", "pieces made while setting", 0),
    number("rejected_kg", "kg", "rejected pieces", 0),
    number("difference_kg", "kg", "start less all that is accounted for, with its sign"),
    number("coil_yield", "1", "weight of good pieces over weight of strip used", 0, 1),
    text("table", "input table"),
    text("file", "file it came from"),
)

#: Columns by name: those of the input tables, where a figure has the same, and those that several figures have.
COLUMNS: Mapping[str, Field] = MappingProxyType(FIELDS | {field.name: field for field in _SHARED})


def columns(*parts: str | Field) -> tuple[Field, ...]:
    """Return the columns of a figure in order: names of `COLUMNS` with spaces between, and columns of its own.

    Raises KeyError for a name that is not in `COLUMNS`.
    """
    found: list[Field] = []
    for part in parts:
        found += [part] if isinstance(part, Field) else [COLUMNS[name] for name in part.split()]
    return tuple(found)
