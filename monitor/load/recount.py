"""Keeps the account of earlier loads in step when rows that come later put theirs in another light."""

from __future__ import annotations

import time
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence

import pyarrow as pa
import pyarrow.compute as pc

from monitor.intake import Rejected
from monitor.ledger import Merge, Move, Writer
from monitor.load.report import as_it_came

#: Files named one by one at most.
_NAMED = 20


def recount(writer: Writer, table: str, merged: Merge, under_way: int = 0) -> Counter[Move]:
    """Set aside, release and count again rows of earlier loads, as a merge found; return what moved where.

    The counts of the load that is `under_way` are kept by whoever loads.
    """
    found = merged.earlier
    writer.recount({move: rows for move, rows in found.moves.items() if move[0] != under_way})
    by_load: dict[int, list[Rejected]] = defaultdict(list)
    for row in found.aside:
        by_load[row.load_id].append(Rejected(row.line, row.reason, as_it_came(table, row.row)))
    for load_id, rejected in by_load.items():
        writer.set_aside(load_id, table, writer.file_of(load_id), rejected)
    for load_id, line in found.back:
        writer.let_back(load_id, table, line)
    for load_id, line, reason in found.told:
        writer.set_reason(load_id, table, line, reason)
    return found.moves


def recorded_now(rows: pa.Table) -> pa.Table:
    """Rows that a person lets in as corrections: recorded now, or a moment after what they say, which is older."""
    now = pa.scalar(time.time_ns() // 1_000, pa.int64())
    kind = pa.timestamp("us", "UTC")
    if "recorded_at" not in rows.column_names:
        return rows.append_column("recorded_at", pa.array([now.as_py()] * len(rows), pa.int64()).cast(kind))
    after = pc.add(rows.column("recorded_at").cast(kind).cast(pa.int64()), 1)
    at = rows.column_names.index("recorded_at")
    return rows.set_column(at, "recorded_at", pc.fill_null(after, now).cast(kind))


def describe_moves(writer: Writer, moves: Mapping[Move, int], but: Sequence[int]) -> list[str]:
    """Return a sentence for each file some of whose rows count otherwise now, except for some loads."""
    sums: Counter[tuple[str, str, str]] = Counter()
    for (load_id, was, now), rows in sorted(moves.items()):
        if load_id not in but and rows:
            sums[writer.file_of(load_id), was, now] += rows
    said = [
        f"{file}: {rows:,} rows loaded before count as {now} now, no longer as {was}".replace("_", " ")
        for (file, was, now), rows in sums.items()
    ]
    return said if len(said) <= _NAMED else [*said[:_NAMED], f"and {len(said) - _NAMED:,} more files"]
