"""Merging rows that have a key into Parquet parts, for bulk tables other than strokes."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from monitor.ledger.bulk.parts import BulkPart, PartWriter, to_merge
from monitor.ledger.catalog.values import Value, canonical, row_keys, stored_values
from monitor.ledger.merge.accounts import Delivery
from monitor.ledger.merge.deliveries import Deliveries
from monitor.ledger.merge.outcome import Merge
from monitor.ledger.merge.resolve import Identity, Keyed, Resolved, keyed_rows, resolve
from monitor.ledger.merge.tables import add_press_days
from shared.calendar import Calendar
from shared.durations import DAY_US
from shared.table import Table

_TWO_DAYS_US = 2 * DAY_US


class BulkMerge:
    """Merges one batch of a bulk table; the rows of a press and plant day end up in one part, sorted by time."""

    def __init__(
        self, parts: PartWriter, table: Table, calendar: Calendar, deliveries: Deliveries, known_since: int
    ) -> None:
        if table.time is None:
            raise ValueError(f"{table.name} has no time to sort by")
        self._parts = parts
        self._table = table
        self._time = table.time
        self._calendar = calendar
        self._deliveries = deliveries
        self._known_since = known_since
        self._columns = (*table.columns, "load_id", "line")

    def merge(self, rows: pa.Table, load_id: int) -> Merge:
        """Merge a batch into the stored rows; its new parts are on their way to the disk on return."""
        if not len(rows):
            return Merge()
        rows = canonical(self._table, rows)
        columns = stored_values(self._table, rows)
        times = rows.column(self._time).cast(pa.int64()).to_numpy()
        from_us, to_us = int(times.min()), int(times.max())
        near = self._parts.find(self._table.name, None, from_us - _TWO_DAYS_US, to_us + _TWO_DAYS_US)
        # A key does not name the press, so parts of every press may hold it.
        overlapping = [part for part in near if part.meets(from_us, to_us)]
        resolved, left = self._resolve(rows, columns, load_id, overlapping)
        if resolved.replaced:
            near = [part for part in near if part not in overlapping]
        rows = rows.append_column("load_id", pa.repeat(load_id, len(rows))).take(
            pa.array(resolved.accepted, pa.int64())
        )
        self._add(rows, near)
        for part, rest in left:
            self._put(part.press_id, part.day, rest)
        self._parts.flush()
        self._deliveries.keep(self._table.name, resolved.kept)
        result = resolved.merge
        add_press_days(result, self._table, columns, resolved, self._calendar)
        return result

    def join(self, due: Sequence[BulkPart]) -> None:
        """Put one part in the place of several of a press-day."""
        rows = pa.concat_tables(self._read(due))
        self._parts.remove(due)
        self._put(due[0].press_id, due[0].day, rows)

    def _resolve(
        self,
        rows: pa.Table,
        columns: Sequence[Sequence[Value]],
        load_id: int,
        overlapping: list[BulkPart],
    ) -> tuple[Resolved, list[tuple[BulkPart, pa.Table]]]:
        keys = row_keys(self._table, columns)
        if not overlapping and len(set(keys)) == len(keys):
            return Resolved(accepted=list(range(len(keys))), new=len(keys)), []
        pieces = self._read(overlapping)
        stored = dict(self._keyed(pieces))
        lines, size = rows.column("line").to_pylist(), len(keys)
        incoming = keyed_rows(
            self._table,
            columns,
            keys=keys,
            load_ids=[load_id] * size,
            lines=lines,
            places=range(size),
            deliveries=self._deliveries,
        )
        kept = self._deliveries.of_keys(self._table.name, keys)
        resolved = resolve(
            self._table, incoming, stored=stored, kept=kept, history=self._history, calendar=self._calendar
        )
        return resolved, self._take_out(overlapping, pieces, resolved.replaced)

    def _history(self, keys: Iterable[str]) -> set[Identity]:
        wanted = set(keys)
        if not wanted or not self._known_since:
            return set()
        at = self._table.key.index(self._time)
        times = [int(json.loads(key)[at]) for key in wanted]
        parts = self._parts.find(self._table.name, None, min(times), max(times), removed_by=self._known_since)
        found = self._keyed(self._read(parts))
        return {(key, row.values, row.recorded_at) for key, row in found if key in wanted}

    def _keyed(self, pieces: Sequence[pa.Table]) -> list[Keyed]:
        if not pieces:
            return []
        rows = pa.concat_tables(pieces)
        columns = stored_values(self._table, rows)
        keys = row_keys(self._table, columns)
        load_ids, lines = rows.column("load_id").to_pylist(), rows.column("line").to_pylist()
        return keyed_rows(
            self._table,
            columns,
            keys=keys,
            load_ids=load_ids,
            lines=lines,
            places=range(len(rows)),
            deliveries=self._deliveries,
        )

    def _take_out(
        self, overlapping: list[BulkPart], pieces: Sequence[pa.Table], replaced: Sequence[Delivery]
    ) -> list[tuple[BulkPart, pa.Table]]:
        """Remove the parts that lose rows; returns what is left of them."""
        if not replaced:
            return []
        keep = np.ones(sum(part.rows for part in overlapping), np.bool_)
        keep[[row.place for row in replaced]] = False
        self._parts.remove(overlapping)
        bounds = np.cumsum([part.rows for part in overlapping])[:-1]
        masks = np.split(keep, bounds)
        rests = [
            (part, piece.filter(pa.array(mask))) for part, piece, mask in zip(overlapping, pieces, masks, strict=True)
        ]
        return [(part, rest) for part, rest in rests if len(rest)]

    def _add(self, rows: pa.Table, near: Sequence[BulkPart]) -> None:
        days = self._calendar.plant_days(rows.column(self._time).cast(pa.int64()).to_numpy())
        marked = rows.append_column("day", pa.array(np.datetime_as_string(days), pa.string()))
        groups = marked.select(["press_id", "day"]).group_by(["press_id", "day"]).aggregate([])
        for press_id, day in zip(groups["press_id"].to_pylist(), groups["day"].to_pylist(), strict=True):
            of_day = marked.filter((pc.field("press_id") == press_id) & (pc.field("day") == day)).drop_columns("day")
            due = to_merge((part for part in near if (part.press_id, part.day) == (press_id, day)), len(of_day))
            if due:
                of_day = pa.concat_tables([of_day.select(self._columns), *self._read(due)])
                self._parts.remove(due)
            self._put(press_id, day, of_day)

    def _put(self, press_id: str, day: str, rows: pa.Table) -> None:
        rows = rows.select(self._columns).sort_by([(self._time, "ascending"), ("line", "ascending")])
        times = rows.column(self._time).cast(pa.int64())
        batch = rows.combine_chunks().to_batches()[0]
        span = times[0].as_py(), times[-1].as_py()
        self._parts.add(
            self._table.name, press_id, day=day, rows=batch, span_us=span, loads=pc.unique(rows["load_id"]).to_pylist()
        )

    def _read(self, parts: Sequence[BulkPart]) -> list[pa.Table]:
        pieces = self._parts.read(parts, self._columns)
        # A file older than a column of the contract has the column empty.
        whole = (canonical(self._table, rows).append_column("load_id", rows.column("load_id")) for rows in pieces)
        return [rows.select(self._columns) for rows in whole]
