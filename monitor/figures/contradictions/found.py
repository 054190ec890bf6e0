"""What a contradiction is, and what is said of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from monitor.figures.scope import Scope
from monitor.ledger import Placed, Snapshot
from shared.phrases import key

REJECTED, DECIDED, SAMPLE = "more_rejected_than_made", "more_decided_than_rejected", "sample_larger_than_made"
COIL, DIE, BOX = "coil_on_two_presses", "die_in_two_presses", "box_sent_twice"
STOP, EVENT = "stop_while_running", "event_of_other_die"

#: Code -> the figures that cannot be relied on.
AFFECTS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        REJECTED: ("shifts", "hours", "coils", "coil_ledger", "scrap", "customer_week"),
        COIL: ("coils", "coil_ledger", "scrap", "trace", "suspects"),
        DIE: ("shifts", "hours", "wear", "service", "suspects", "exposure"),
        BOX: ("customer_week", "trace", "exposure"),
        DECIDED: ("shifts", "hours", "coils", "coil_ledger", "scrap", "customer_week"),
        SAMPLE: ("scrap", "suspects", "wear", "exposure"),
        STOP: ("stops",),
        EVENT: ("shifts", "hours", "coils", "customer_week"),
    }
)

#: Code -> what it is called.
KINDS: Mapping[str, str] = MappingProxyType(
    {
        REJECTED: key("more rejected than made"),
        COIL: key("one coil on two presses"),
        DIE: key("one die in two presses"),
        BOX: key("container sent twice"),
        DECIDED: key("more decided than rejected"),
        SAMPLE: key("sample larger than what was made"),
        STOP: key("stop entered while the press ran"),
        EVENT: key("event of another die"),
    }
)

Names = tuple[str, ...]


@dataclass(frozen=True)
class Contradiction:
    """Rows that cannot all be true: of which code, when [us], from which files and lines, and what to do.

    `shifts` are the shift dates and shifts of the range asked for whose figures come out below 0 for it, whenever it
    was noted itself.
    """

    code: str
    at_us: int
    rows: Names
    remedy: str
    presses: Names = ()
    dies: Names = ()
    parts: Names = ()
    coils: Names = ()
    containers: Names = ()
    inspections: Names = ()
    shifts: frozenset[tuple[str, str]] = field(default=frozenset(), compare=False)

    @property
    def key(self) -> tuple[object, ...]:
        """What makes it the same contradiction in two versions, whatever has been loaded in between."""
        return (self.code, self.at_us, self.presses, self.dies, self.coils, self.containers, self.inspections)

    def is_in(self, scope: Scope) -> bool:
        """Tell whether it is asked for."""
        filters = ((scope.press, self.presses), (scope.die, self.dies), (scope.part, self.parts))
        if any(value is not None and value not in names for value, names in filters):
            return False
        begins = scope.from_us is None or self.at_us >= scope.from_us
        return bool(self.shifts) or (begins and (scope.to_us is None or self.at_us < scope.to_us))


def named(*names: object) -> Names:
    """Return the names that there are, each once, in order."""
    return tuple(sorted({str(name) for name in names if name not in (None, "")}))


def places(snapshot: Snapshot, rows: Iterable[Placed]) -> Names:
    """Return file and line of some rows, in order: `inspections.csv:12`."""
    rows = list(rows)
    files = snapshot.file_names({row.load_id for row in rows})
    found = {(files.get(row.load_id, ""), row.line) for row in rows}
    return tuple(f"{file}:{line}" for file, line in sorted(found))
