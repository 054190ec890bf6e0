"""Settling rows that have a key: the same key with the same values is a repeat, with other values a correction."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from monitor.ledger.catalog.values import Value
from monitor.ledger.merge.accounts import NEVER, REPEATED, Delivery, DeliveryAccount, settle_key
from monitor.ledger.merge.deliveries import Deliveries
from monitor.ledger.merge.outcome import Demoted, Merge, Recounted, conflict
from shared.calendar import Calendar
from shared.fields import Kind
from shared.phrases import Phrase
from shared.table import Table

Keyed = tuple[str, Delivery]
"""One row with its key; its `place` says where it is: a row_id, a part and index, or an index in the batch."""

Identity = tuple[str, tuple[Value, ...], int]
"""Key, values and recorded_at."""

History = Callable[[Iterable[str]], set[Identity]]
"""Rows superseded before the ledger kept their deliveries, by key."""


@dataclass
class Resolved:
    """What becomes of a batch: indices of the rows to add, stored rows to take out and the counts.

    `revived` are rows that hold again though nothing of them is stored, `kept` the deliveries that do not hold.
    """

    accepted: list[int] = field(default_factory=list)
    replaced: list[Delivery] = field(default_factory=list)
    revived: list[Keyed] = field(default_factory=list)
    kept: dict[str, list[tuple[Delivery, bool]]] = field(default_factory=dict)
    new: int = 0
    repeated: int = 0
    corrected: int = 0
    conflicts: list[tuple[int, Phrase]] = field(default_factory=list)
    again: list[int] = field(default_factory=list)
    earlier: Recounted = field(default_factory=Recounted)

    @property
    def merge(self) -> Merge:
        """The counts."""
        return Merge(
            new=self.new,
            repeated=self.repeated,
            corrected=self.corrected,
            conflicts=self.conflicts,
            again=self.again,
            earlier=self.earlier,
            taken=len(self.accepted) + len(self.revived),
        )


def keyed_rows(
    table: Table,
    columns: Sequence[Sequence[Value]],
    keys: Sequence[str],
    load_ids: Sequence[int],
    lines: Sequence[int],
    places: Sequence[int],
    deliveries: Deliveries,
) -> list[Keyed]:
    """Rows from columns in contract order; `recorded_at` is no value but says which of two rows is the later."""
    at = table.columns.index("recorded_at")
    values = zip(*(column for number, column in enumerate(columns) if number != at), strict=True)
    recorded = (NEVER if value is None else int(value) for value in columns[at])
    rows = zip(values, recorded, load_ids, lines, places, strict=True)
    return [(key, deliveries.of_load(*row)) for key, row in zip(keys, rows, strict=True)]


def resolve(
    table: Table,
    rows: Sequence[Keyed],
    stored: Mapping[str, Delivery],
    kept: Mapping[str, Sequence[Delivery]],
    history: History,
    calendar: Calendar | None = None,
) -> Resolved:
    """Settle a batch against the stored rows of its keys, and the deliveries of them that do not hold.

    Reasons quote times in the plant time of `calendar`, else in UTC.
    """
    result = Resolved()
    by_key: dict[str, list[Delivery]] = defaultdict(list)
    for key, row in rows:
        by_key[key].append(row)
    differing = [key for key, came in by_key.items() if key in stored and _differ(came, stored[key])]
    superseded = history([key for key in differing if key not in kept]) if differing else set()
    for key, came in by_key.items():
        held, others = stored.get(key), kept.get(key, ())
        fresh = [row for row in came if (key, row.values, row.recorded_at) not in superseded]
        result.repeated += len(came) - len(fresh)
        if held is None and not others and len(fresh) == 1:
            result.new += 1
            result.accepted.append(fresh[0].place)
        elif fresh:
            account = settle_key([*others, *([] if held is None else [held])], fresh)
            _apply(table, key, held=held, account=account, result=result, calendar=calendar)
    result.accepted.sort()
    return result


def _differ(came: Iterable[Delivery], held: Delivery) -> bool:
    return any(row.values != held.values for row in came)


def _apply(
    table: Table, key: str, held: Delivery | None, account: DeliveryAccount, result: Resolved, calendar: Calendar | None
) -> None:
    """Take over what the account of one key says."""
    result.new += account.counts["new"]
    result.repeated += account.counts[REPEATED]
    result.corrected += account.counts["corrected"]
    result.conflicts += [(one.order.line, reason(table, one, other, calendar)) for one, other in account.lost]
    result.again += [one.order.line for one in account.again]
    add_recounted(result.earlier, table, account, calendar)
    (holding,) = account.holding
    if holding is not held:
        if held is not None:
            result.replaced.append(held)
        if holding.place >= 0:
            result.accepted.append(holding.place)
        else:
            result.revived.append((key, holding))
    result.kept[key] = account.others


def add_recounted(earlier: Recounted, table: Table, account: DeliveryAccount, calendar: Calendar | None = None) -> None:
    """Add what rows of earlier loads came to in one key."""
    earlier.moves += account.moves
    for one, other in account.aside:
        why = reason(table, one, other, calendar)
        earlier.aside.append(Demoted(one.load_id, one.order.line, why, as_record(table, one)))
    earlier.back += [(one.load_id, one.order.line) for one in account.back]
    for one, other in account.told:
        earlier.told.append((one.load_id, one.order.line, reason(table, one, other, calendar)))


def as_record(table: Table, row: Delivery) -> dict[str, Value]:
    """The columns of a delivery as SQL holds them."""
    names = (name for name in table.columns if name != "recorded_at")
    recorded = None if row.recorded_at <= NEVER else row.recorded_at
    return dict(zip(names, row.values, strict=True)) | {"recorded_at": recorded}


def reason(table: Table, row: Delivery, against: Delivery, calendar: Calendar | None = None) -> Phrase:
    """Why a row is set aside that contradicts another; times are plant time of the calendar, else UTC."""
    names = (name for name in table.columns if name != "recorded_at")
    differences: dict[str, tuple[object, object]] = {
        name: (_told(table, name, seen, calendar), _told(table, name, stored, calendar))
        for name, seen, stored in zip(names, row.values, against.values, strict=True)
        if seen != stored
    }
    return conflict(differences, against.order.file, against.order.line)


def _told(table: Table, name: str, value: Value, calendar: Calendar | None) -> object:
    if table.field(name).kind is not Kind.TIME or not isinstance(value, int):
        return value
    if calendar is None:
        return (dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(microseconds=value)).isoformat()
    return calendar.local_iso([value])[0]
