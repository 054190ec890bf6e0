"""Settling rows that have a key: the same key with the same values is a repeat, with other values a correction."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from monitor.ledger.outcome import conflict
from monitor.ledger.values import Value
from shared.calendar import Calendar
from shared.fields import Kind
from shared.table import Table

_EARLIEST = -1


class Keyed(NamedTuple):
    """One row with its key; `place` says where it is: a row_id, a part and index, or an index in the batch."""

    key: str
    values: tuple[Value, ...]
    recorded_at: int
    load_id: int
    line: int
    place: int

    @property
    def identity(self) -> tuple[str, tuple[Value, ...], int]:
        """What makes two deliveries of a row the same one."""
        return self.key, self.values, self.recorded_at


Identity = tuple[str, tuple[Value, ...], int]

History = Callable[[Iterable[str]], set[Identity]]
"""Rows superseded earlier, by key."""


@dataclass
class Resolved:
    """What becomes of a batch: indices of the rows to add, stored rows to take out and the counts."""

    accepted: list[int] = field(default_factory=list)
    replaced: list[Keyed] = field(default_factory=list)
    new: int = 0
    repeated: int = 0
    corrected: int = 0
    conflicts: list[tuple[int, str]] = field(default_factory=list)


def keyed_rows(
    table: Table,
    columns: Sequence[Sequence[Value]],
    keys: Sequence[str],
    load_ids: Sequence[int],
    lines: Sequence[int],
    places: Sequence[int],
) -> list[Keyed]:
    """Rows from columns in contract order; `recorded_at` is no value but says which of two rows is the later."""
    at = table.columns.index("recorded_at")
    values = zip(*(column for number, column in enumerate(columns) if number != at), strict=True)
    recorded = (_EARLIEST if value is None else int(value) for value in columns[at])
    return [Keyed(*row) for row in zip(keys, values, recorded, load_ids, lines, places, strict=True)]


def resolve(
    table: Table,
    rows: Sequence[Keyed],
    stored: Mapping[str, Keyed],
    correcting: int | None,
    history: History,
    calendar: Calendar | None = None,
) -> Resolved:
    """Settle a batch against the stored rows of its keys.

    `correcting` is the load that may replace rows of other loads whatever their `recorded_at`; reasons quote times in
    the plant time of `calendar`, else in UTC.
    """
    result = Resolved()
    current = dict(stored)
    differing = [row.key for row in rows if _differs(row, stored)] if stored else []
    superseded = history(differing) if differing and correcting is None else set()
    accepted: dict[str, int] = {}
    for row in rows:
        held = current.get(row.key)
        if held is None:
            result.new += 1
        elif held.values == row.values or (correcting is None and row.identity in superseded):
            result.repeated += 1
            continue
        elif _rank(row, correcting) > _rank(held, correcting):
            result.corrected += 1
            superseded.add(held.identity)
            if row.key not in accepted:
                result.replaced.append(held)
        else:
            result.conflicts.append((row.line, _reason(table, row, held, calendar)))
            continue
        current[row.key] = row
        accepted[row.key] = row.place
    result.accepted = sorted(accepted.values())
    return result


def _differs(row: Keyed, stored: Mapping[str, Keyed]) -> bool:
    held = stored.get(row.key)
    return held is not None and held.values != row.values


def _rank(row: Keyed, correcting: int | None) -> tuple[bool, int]:
    return row.load_id == correcting, row.recorded_at


def _reason(table: Table, row: Keyed, held: Keyed, calendar: Calendar | None) -> str:
    names = (name for name in table.columns if name != "recorded_at")
    differences: dict[str, tuple[object, object]] = {
        name: (_told(table, name, seen, calendar), _told(table, name, stored, calendar))
        for name, seen, stored in zip(names, row.values, held.values, strict=True)
        if seen != stored
    }
    return conflict(differences, held.load_id, held.line)


def _told(table: Table, name: str, value: Value, calendar: Calendar | None) -> object:
    if table.field(name).kind is not Kind.TIME or not isinstance(value, int):
        return value
    if calendar is None:
        return (dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(microseconds=value)).isoformat()
    return calendar.local_iso([value])[0]
