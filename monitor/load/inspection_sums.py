"""The rows of one inspection must add up whatever files they came in: where they do not, all of them are set aside."""

from __future__ import annotations

import datetime as dt
import json
from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from monitor.intake import DIFFERS, Ref, Rejected, too_many
from monitor.ledger import Placed, Writer
from monitor.plant.book import Record
from shared.fields import Kind
from shared.phrases import Phrase
from shared.tables import TABLES

TABLE = "inspections"
_ID = "inspection_id"


@dataclass(frozen=True)
class UnbalancedRows:
    """Rows that were stored and are set aside now: the rows, and how many of which load."""

    rows: list[Record] = field(default_factory=list)
    loads: Mapping[int, int] = field(default_factory=dict)
    reasons: Mapping[tuple[int, int], Phrase] = field(default_factory=dict)


def set_aside_unbalanced(writer: Writer, names: Collection[str]) -> UnbalancedRows:
    """Set aside the stored rows of those inspections that do not add up; they wait for more rows of theirs."""
    gone = [(row, fault) for rows in _by_name(writer, names).values() if (fault := _fault(rows)) for row in rows]
    if not gone:
        return UnbalancedRows()
    counted = writer.counted(TABLE, [row.key for row, _ in gone])
    writer.withdraw(TABLE, [row.key for row, _ in gone])
    files = dict(zip(*(writer.loads()[name].tolist() for name in ("load_id", "file")), strict=True))
    by_load: dict[int, list[Rejected]] = defaultdict(list)
    for row, fault in gone:
        by_load[row.load_id].append(Rejected(row.line, fault, _as_it_came(row.row), ((TABLE, str(row.row[_ID])),)))
    for load_id, rejected in by_load.items():
        writer.set_aside(load_id, TABLE, files[load_id], rejected)
    writer.recount(Counter((row.load_id, counted[row.key], "set_aside") for row, _ in gone))
    return UnbalancedRows(
        [row.row for row, _ in gone],
        {load_id: len(rejected) for load_id, rejected in by_load.items()},
        {(row.load_id, row.line): fault for row, fault in gone},
    )


def stored_inspections(writer: Writer, table: str, rejected: Sequence[Rejected]) -> set[Ref]:
    """Return the inspections of rows that do not add up in their own file, where other rows of theirs are stored."""
    waits_for = [ref for row in rejected for ref in row.waits_for] if table == TABLE else []
    names = {name for other, name in waits_for if other == TABLE}
    stored = writer.lookup(TABLE, _ID, names) if names else []
    return {(TABLE, row[_ID]) for row in stored}


def _by_name(writer: Writer, names: Collection[str]) -> dict[str, list[Placed]]:
    held: dict[str, list[Placed]] = defaultdict(list)
    for row in writer.placed(TABLE, _ID, names):
        if row.row["kind"] != "tub":  # What was counted out of a tub is a part of nothing.
            held[row.row[_ID]].append(row)
    return held


def _fault(rows: Sequence[Placed]) -> Phrase | None:
    """What is wrong with the rows of one inspection together, as the reading of a single file says it."""
    inspected = {row.row["inspected"] for row in rows}
    if len(inspected) > 1:
        return DIFFERS
    [pieces], rejected = inspected, sum(row.row["rejected"] or 0 for row in rows)
    if pieces is None or rejected <= pieces:
        return None
    return too_many(rejected, pieces)


def _as_it_came(row: Record) -> str:
    cells = {name: _cell(name, value) for name, value in row.items() if value is not None}
    return json.dumps(cells, ensure_ascii=False)


def _cell(name: str, value: object) -> str:
    if TABLES[TABLE].field(name).kind is Kind.TIME and isinstance(value, int):
        return (dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(microseconds=value)).isoformat()
    return str(value)
