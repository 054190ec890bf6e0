"""The history of what was entered by hand: who, when, what was there before, and whether it has been undone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from monitor.ledger import Entered, RowStay, Snapshot
from monitor.reckoning.press.stops import NOTED_EARLY_US
from shared.durations import DAY_US, FOREVER_US, SECOND_US
from shared.errors import Overtaken, RequestError
from shared.phrases import key, phrase
from shared.table import Table
from shared.tables import TABLES

Row = Mapping[str, Any]

#: How long before a moment an entered stop may have begun that still bears on it [us]; as `monitor.refold.notes`.
REACH_US = 14 * DAY_US


@dataclass(frozen=True)
class RowChange:
    """One row that an entry changed, as it stood before and after; None where there was none.

    In a history, what stood before a new row of `stops` is the row of another key that spoke of its beginning.
    """

    key: str
    before: Row | None
    after: Row | None


@dataclass(frozen=True)
class HistoryEntry:
    """An entry with what it changed; `undone_by` is the load that undid it, 0 while it holds."""

    entered: Entered
    changes: tuple[RowChange, ...]
    undone_by: int = 0


def history(
    snapshot: Snapshot, tables: Iterable[str], from_us: int, to_us: int, press_id: str | None
) -> list[HistoryEntry]:
    """Return the entries about rows of these tables in [from_us, to_us) [us], newest first.

    `press_id` narrows tables that name a press.
    """
    entries = {entered.version: entered for entered in snapshot.entries()}
    undone = {entered.undoes: entered.load_id for entered in entries.values() if entered.undoes}
    changes: dict[int, dict[str, RowChange]] = {}
    for table in tables:
        for stay in snapshot.stays(table, from_us, to_us, press_id):
            for version in (stay.added, stay.removed or 0):
                if version in entries and entries[version].table == table:
                    _note(changes.setdefault(version, {}), stay, version)
    told = [
        HistoryEntry(entries[version], tuple(rows.values()), undone.get(entries[version].load_id, 0))
        for version, rows in changes.items()
    ]
    laid_over = [_laid_over(snapshot, one) if one.entered.table == "stops" else one for one in told]
    return sorted(laid_over, key=lambda one: -one.entered.load_id)


def _laid_over(snapshot: Snapshot, told: HistoryEntry) -> HistoryEntry:
    """Return an entry of stops with what each of its new rows was laid over."""
    version = told.entered.version - 1
    changes = tuple(
        change if change.before or not change.after else replace(change, before=_spoke(snapshot, change.after, version))
        for change in told.changes
    )
    return replace(told, changes=changes)


def _spoke(snapshot: Snapshot, row: Row, version: int) -> Row | None:
    """Return the row that gave the beginning of a stretch another reason in a version; the one that began last does."""
    start_us = row["start_at"]
    stays = snapshot.stays("stops", start_us - REACH_US, start_us + 1, row["press_id"])
    holding = [stay.row for stay in stays if stay.added <= version and (stay.removed or FOREVER_US) > version]
    over = [one for one in holding if (one["end_at"] or FOREVER_US) > start_us]
    last: Row | None = max(over, key=lambda one: int(one["start_at"]), default=None)
    if last is None or last["reason"] == row["reason"]:
        return None
    return last if last["end_at"] or _holds_until(snapshot, last, start_us) else None


def _holds_until(snapshot: Snapshot, entry: Row, at_us: int) -> bool:
    """Whether an entry without an end means the stop around a moment: the first that ends after it began."""
    date = dt.datetime.fromtimestamp(at_us // SECOND_US, dt.UTC).date()
    first, after = date - dt.timedelta(days=15), date + dt.timedelta(days=3)
    stops = snapshot.facts("stops", from_date=first, to_date=after, press_id=entry["press_id"])
    later = stops[(stops["to_us"] > entry["start_at"]) & (stops["from_us"] <= at_us)]
    if later["stop_id"].nunique() != 1:
        return False
    began_us = int(stops.loc[stops["stop_id"] == later["stop_id"].iloc[0], "from_us"].min())
    return began_us <= int(entry["start_at"]) + NOTED_EARLY_US


def changes_of(snapshot: Snapshot, entered: Entered) -> list[RowChange]:
    """Return what an entry changed, row by row."""
    changes: dict[str, RowChange] = {}
    for stay in snapshot.changed_at(entered.table, entered.version):
        _note(changes, stay, entered.version)
    return list(changes.values())


def undoing(snapshot: Snapshot, entered: Entered, changes: Sequence[RowChange]) -> None:
    """Raise Overtaken where what an entry changed has been changed since, RequestError where nothing was."""
    if not changes:
        seen, expected = phrase("an entry that changed nothing"), phrase("one that did")
        raise RequestError(phrase("undo"), seen, expected, phrase("leave it as it is"))
    contract = TABLES[entered.table]
    for change in changes:
        near = _near(snapshot, contract, change.after or change.before or {})
        mine = [stay for stay in near if stay.key == change.key]
        holds = next((stay.row for stay in mine if stay.removed is None), None)
        if _values(holds) != _values(change.after):
            raise _overtaken(snapshot, contract, _newest(mine))


def overtaken_by(snapshot: Snapshot, contract: Table, row: Row, seen: int) -> None:
    """Raise Overtaken where something about the same as `row` came or went after the version `seen`.

    The same is the same key; for a stop, any stop of the press at the same time.
    """
    same = [stay for stay in _near(snapshot, contract, row) if _same_thing(contract, stay.row, row)]
    changed = [stay for stay in same if max(stay.added, stay.removed or 0) > seen]
    if changed:
        raise _overtaken(snapshot, contract, _newest(changed))


def _newest(stays: Sequence[RowStay]) -> RowStay:
    """Return the one that changed last; what holds now says more than what it replaced."""
    return max(stays, key=lambda stay: (max(stay.added, stay.removed or 0), stay.added))


def _values(row: Row | None) -> Row | None:
    return None if row is None else {name: value for name, value in row.items() if name != "recorded_at"}


def _near(snapshot: Snapshot, contract: Table, row: Row) -> list[RowStay]:
    at_us = row[str(contract.time)]
    if contract.name != "stops":
        return snapshot.stays(contract.name, at_us, at_us + 1, row.get("press_id"))
    end_us = row.get("end_at")
    return snapshot.stays("stops", at_us - REACH_US, FOREVER_US if end_us is None else end_us + 1, row["press_id"])


def _same_thing(contract: Table, one: Row, other: Row) -> bool:
    if contract.name == "stops":
        (a, b), (c, d) = ((row["start_at"], row.get("end_at") or FOREVER_US) for row in (one, other))
        return bool(a < d and c < b) or a == c
    return all((one[name] or None) == (other.get(name) or None) for name in contract.key)


def _overtaken(snapshot: Snapshot, contract: Table, stay: RowStay) -> Overtaken:
    version = max(stay.added, stay.removed or 0)
    entered = next((one for one in snapshot.entries(after=version - 1) if one.version == version), None)
    by = entered.by if entered else phrase("a file")
    what = ", ".join(f"{name} {value}" for name, value in stay.row.items() if value is not None and name in _TOLD)
    gone = stay.removed == version
    seen = key("{who} took {what} back meanwhile") if gone else key("{who} entered {what} meanwhile")
    return Overtaken(
        contract.name,
        phrase(seen, who=by, what=what),
        phrase("nothing about the same since you looked"),
        phrase("look at it, and enter yours again if it still holds"),
        by=by,
        at_us=entered.at_us if entered else 0,
        row=stay.row,
        gone=gone,
    )


_TOLD = ("press_id", "die_id", "event", "work", "reason", "note", "hold_id")


def _note(changes: dict[str, RowChange], stay: RowStay, version: int) -> None:
    held = changes.get(stay.key, RowChange(stay.key, None, None))
    before = stay.row if stay.removed == version else held.before
    after = stay.row if stay.added == version else held.after
    changes[stay.key] = RowChange(stay.key, before, after)
