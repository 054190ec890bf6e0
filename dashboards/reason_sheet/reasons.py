"""The reasons offered for a stop: the most used on that press first, and the rest behind them."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import dataclass

from dashboards.ledger.records import records
from dashboards.ledger.version import LedgerVersion
from monitor.reckoning.press.stops import BREAK, CLOSED, NO_REASON, NO_SHIFT

#: Reasons offered at once; common practice, no source.
OFFERED = 12

#: Plant days back in which uses are counted; common practice, no source.
COUNTED_DAYS = 28

_NOT_GIVEN = (BREAK, CLOSED, NO_REASON, NO_SHIFT, "")


@dataclass(frozen=True)
class OfferedReason:
    """A reason: its code, the plant's name for it, its kind, and how often it was used lately."""

    code: str
    name: str
    kind: str
    used: int


def offered(
    reading: LedgerVersion, presses: set[str], newest: dt.date
) -> tuple[tuple[OfferedReason, ...], tuple[OfferedReason, ...]]:
    """The reasons to be shown for stops of these presses, the most used first, and the rest by name.

    What was never used on them follows by its use on all presses.
    """
    here: Counter[str] = Counter()
    anywhere: Counter[str] = Counter()
    kinds: dict[str, str] = {}
    for row in records(reading.floor.stops_by_reason(newest - dt.timedelta(days=COUNTED_DAYS))):
        if row["reason"] not in _NOT_GIVEN:
            kinds[row["reason"]] = row["kind"]
            anywhere[row["reason"]] += row["stops"]
            here[row["reason"]] += row["stops"] if row["press_id"] in presses else 0
    names = reading.names("reasons")
    found = [
        OfferedReason(code, names.get(code) or code, kinds.get(code, ""), here[code])
        for code in sorted({*names, *anywhere}, key=lambda code: (-here[code], -anywhere[code], names.get(code, code)))
    ]
    first, rest = found[:OFFERED], found[OFFERED:]
    return tuple(first), tuple(sorted(rest, key=lambda reason: reason.name.casefold()))
