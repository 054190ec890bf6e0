"""Reading the ledger as it was at one version."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
import sqlalchemy as sa

from monitor.ledger.bulk.parts import BulkPart, find_parts
from monitor.ledger.catalog.schema import BULK, KEYS_A_QUERY, LOADS, PARTS, PLANTS, PROFILES, ROWS, SET_ASIDE, live
from monitor.ledger.catalog.values import arrow_rows, canonical
from monitor.ledger.placed import PlacedReader
from shared.calendar import Calendar
from shared.plant import Plant
from shared.reasons.kept import recalled
from shared.tables import TABLES

_STROKE_COLUMNS = ("time", "counter", "feeds", "load_id", "line")
_NO_STROKES = pa.schema([("time", pa.timestamp("us", "UTC")), *((name, pa.int64()) for name in _STROKE_COLUMNS[1:])])
_DAY = dt.timedelta(days=1)
_REFERRED = {
    table
    for contract in TABLES.values()
    for tables in (*contract.refers.values(), *contract.mentions.values())
    for table in tables
} - set(BULK)


class Snapshot(PlacedReader):
    """What the ledger held at `version`; later loads do not change what it answers.  Threads may share one."""

    def rows(
        self, table: str, press_id: str | None = None, from_us: int | None = None, to_us: int | None = None
    ) -> pa.Table:
        """Rows of a table with all columns of its contract, in order of time and key; missing is null.

        Time is that of the table's time column, in [from_us, to_us) [us since 1970 UTC]; a table without one, or
        without presses, is not narrowed by it.
        """
        if table in BULK:
            return self._bulk_rows(table, press_id, from_us, to_us)
        contract, made = TABLES[table], ROWS[table]
        query = sa.select(*(made.c[name] for name in contract.columns)).where(live(made, self.version))
        if press_id is not None and "press_id" in contract.columns:
            query = query.where(made.c.press_id == press_id)
        if contract.time and from_us is not None:
            query = query.where(made.c[contract.time] >= from_us)
        if contract.time and to_us is not None:
            query = query.where(made.c[contract.time] < to_us)
        order = dict.fromkeys((*([contract.time] if contract.time else []), *contract.key))
        return arrow_rows(contract, self._columns(query.order_by(*(made.c[name] for name in order))))

    def spanning(
        self, table: str, press_id: str, end: str, from_us: int, to_us: int, open_us: int
    ) -> list[dict[str, Any]]:
        """Rows of a press that began before `to_us` and whose time `end` is later than `from_us`.

        Where that lacks, a row is taken to last `open_us`.  As records in order of time, times in microseconds since
        1970 UTC.
        """
        contract, made = TABLES[table], ROWS[table]
        begin = made.c[str(contract.time)]
        lasts = sa.func.coalesce(made.c[end], begin + open_us) > from_us
        where = (live(made, self.version), made.c.press_id == press_id, begin < to_us, lasts)
        query = sa.select(*(made.c[name] for name in contract.columns)).where(*where).order_by(begin, made.c.row_key)
        return [dict(zip(contract.columns, row, strict=True)) for row in self._all(query)]

    def strokes(self, press_id: str, from_us: int | None = None, to_us: int | None = None) -> pa.Table:
        """Readings of a press in [from_us, to_us): time, counter, feeds (null where not known), load_id, line.

        In order of time and counter, every column in one chunk; load and line say where a reading came from.
        """
        return self.strokes_later(press_id, from_us, to_us)()

    def strokes_later(
        self, press_id: str, from_us: int | None = None, to_us: int | None = None
    ) -> Callable[[], pa.Table]:
        """Look up now which parts `strokes` needs; the function returned reads them, in any thread."""
        parts = self._parts("strokes", press_id, from_us, to_us)

        def read() -> pa.Table:
            return _joined(
                [
                    _cut(self._files.read(part.file, part.row_group, _STROKE_COLUMNS), part, "time", from_us, to_us)
                    for part in parts
                ]
            )

        return read

    def earliest(self, table: str, **equal: str) -> dict[str, Any] | None:
        """First row in time of a table whose columns have the values given; times in microseconds since 1970 UTC."""
        made, contract = ROWS[table], TABLES[table]
        query = sa.select(*(made.c[name] for name in contract.columns)).where(live(made, self.version))
        for name, value in equal.items():
            query = query.where(made.c[name] == value)
        found = self._all(query.order_by(made.c[str(contract.time)]).limit(1))
        return dict(zip(contract.columns, found[0], strict=True)) if found else None

    def presses_with_strokes(self) -> list[str]:
        """Presses that have readings."""
        query = sa.select(PARTS.c.press_id).where(PARTS.c.table == "strokes", live(PARTS, self.version)).distinct()
        return sorted(row[0] for row in self._all(query))

    def stroke_days(self, press_id: str) -> list[dt.date]:
        """Plant days, by the plant of this version, on which readings of a press may lie."""
        parts = self._parts("strokes", press_id)
        if self._calendar is None:
            return sorted({dt.date.fromisoformat(part.day) for part in parts})
        days: set[dt.date] = set()
        for part in parts:
            day, last = (self._calendar.plant_day(us) for us in (part.min_us, part.max_us))
            while day <= last:
                days.add(day)
                day += _DAY
        return sorted(days)

    def loads(self) -> pd.DataFrame:
        """Files loaded, in order, with their counts; `loaded_at` in microseconds since 1970 UTC.

        `refused` says in English why a file was refused, as `code` and `values` keep it (`shared.reasons.kept`).
        """
        names = (
            "load_id", "file", "table", "rows", "outside", "read", "new", "repeated", "corrected", "set_aside",
            "loaded_at", "refused", "refused_values", "profile",
        )  # fmt: skip
        query = sa.select(*(LOADS.c[name] for name in names)).where(LOADS.c.added <= self.version)
        table = self._frame(query.order_by(LOADS.c.load_id), names)
        code, values = table["refused"], table.pop("refused_values")
        return table.assign(refused=_in_english(code, values), code=code, values=values)

    def set_aside_rows(self) -> pd.DataFrame:
        """Rows set aside and not released since, in order; `set_aside_at` in microseconds since 1970 UTC.

        `reason` is the English sentence of `code` and `values` (`shared.reasons.kept`).
        """
        names = ("id", "load_id", "table", "file", "line", "code", "row", "waits_for", "set_aside_at", "code_values")
        query = sa.select(*(SET_ASIDE.c[name] for name in names)).where(live(SET_ASIDE, self.version))
        return _with_reason(self._frame(query.order_by(SET_ASIDE.c.id), names))

    def released_rows(self) -> pd.DataFrame:
        """Rows that were set aside once and let in since: as they came, as they were mended, by whom and when [us].

        `released_by` is empty where what a row waited for has arrived.
        """
        names = (
            "id", "load_id", "table", "file", "line", "code", "row", "released_row", "released_by", "released_at",
            "code_values",
        )  # fmt: skip
        query = sa.select(*(SET_ASIDE.c[name] for name in names)).where(SET_ASIDE.c.removed <= self.version)
        return _with_reason(self._frame(query.order_by(SET_ASIDE.c.id), names))

    def plant_text(self) -> str | None:
        """Text of plant.toml, None where none has been loaded."""
        query = sa.select(PLANTS.c.text).where(live(PLANTS, self.version)).order_by(PLANTS.c.plant_id.desc())
        return next((str(row[0]) for row in self._all(query.limit(1))), None)

    def profile_texts(self) -> dict[str, str]:
        """Text of each column profile, by its name."""
        query = sa.select(PROFILES.c.name, PROFILES.c.text).where(live(PROFILES, self.version))
        return {str(name): str(text) for name, text in self._all(query.order_by(PROFILES.c.name))}

    def lookup(self, table: str, column: str, values: Collection[str]) -> list[dict[str, Any]]:
        """Rows of which a column holds one of the values, as records with times in microseconds since 1970 UTC."""
        made, names = ROWS[table], TABLES[table].columns
        query = sa.select(*(made.c[name] for name in names)).where(live(made, self.version)).order_by(made.c.row_key)
        wanted = sorted(set(values))
        chunks = (wanted[at : at + KEYS_A_QUERY] for at in range(0, len(wanted), KEYS_A_QUERY))
        rows = (row for some in chunks for row in self._all(query.where(made.c[column].in_(some))))
        return [dict(zip(names, row, strict=True)) for row in rows]

    def known(self) -> Mapping[str, frozenset[str]]:
        """Ids that other tables may refer to, by table; those of a table are read when they are first asked for."""
        return _Known(self._ids)

    def _ids(self, table: str) -> frozenset[str]:
        made = ROWS[table]
        query = sa.select(made.c[TABLES[table].id_column]).where(live(made, self.version)).distinct()
        return frozenset(str(row[0]) for row in self._all(query))

    def ids(self, table: str, columns: tuple[str, ...]) -> frozenset[tuple[str, ...]]:
        """What the rows of a table of the catalogue hold in some columns, as text."""
        made = ROWS[table]
        query = sa.select(*(made.c[name] for name in columns)).where(live(made, self.version)).distinct()
        return frozenset(tuple(map(str, row)) for row in self._all(query))

    @cached_property
    def _calendar(self) -> Calendar | None:
        text = self.plant_text()
        return None if text is None else Calendar(Plant.from_toml(text))

    def _bulk_rows(self, table: str, press_id: str | None, from_us: int | None, to_us: int | None) -> pa.Table:
        contract = TABLES[table]
        columns = (*contract.columns, "line")
        pieces = [canonical(contract, rows) for rows in self._pieces(table, press_id, from_us, to_us, columns)]
        if not pieces:
            return arrow_rows(contract, [[] for _ in contract.columns])
        order = dict.fromkeys((str(contract.time), *contract.key, *(["counter"] if table == "strokes" else [])))
        rows = pa.concat_tables(pieces).sort_by([(name, "ascending") for name in order])
        return rows.drop_columns("line")

    def _pieces(
        self, table: str, press_id: str | None, from_us: int | None, to_us: int | None, columns: Sequence[str]
    ) -> list[pa.Table]:
        time = str(TABLES[table].time)
        parts = self._parts(table, press_id, from_us, to_us)
        pieces = []
        for part in parts:
            rows = self._files.read(part.file, part.row_group, columns)
            pieces.append(_cut(rows, part, time, from_us, to_us))
        return pieces

    def _parts(
        self, table: str, press_id: str | None, from_us: int | None = None, to_us: int | None = None
    ) -> list[BulkPart]:
        presses = None if press_id is None else [press_id]
        with self._connect() as connection:
            return find_parts(
                connection, table, condition=live(PARTS, self.version), presses=presses, from_us=from_us, to_us=to_us
            )


class _Known(Mapping[str, frozenset[str]]):
    """Ids by table: a file of counter readings names presses only, and need not wait for every coil ever received."""

    def __init__(self, read: Callable[[str], frozenset[str]]) -> None:
        self._read = read
        self._found: dict[str, frozenset[str]] = {}

    def __getitem__(self, table: str) -> frozenset[str]:
        if table not in _REFERRED:
            raise KeyError(table)
        if table not in self._found:
            self._found[table] = self._read(table)
        return self._found[table]

    def __contains__(self, table: object) -> bool:
        return table in _REFERRED

    def __iter__(self) -> Iterator[str]:
        return iter(sorted(_REFERRED))

    def __len__(self) -> int:
        return len(_REFERRED)


def _joined(pieces: Sequence[pa.Table]) -> pa.Table:
    """Readings in order of time and counter, every column in one chunk."""
    if not pieces:
        return _NO_STROKES.empty_table()
    if _follow(pieces, "time"):
        return pa.concat_tables(pieces).combine_chunks()
    rows = pa.concat_tables(pieces)
    times, counters = (rows.column(name).cast(pa.int64()).to_numpy() for name in ("time", "counter"))
    return rows.take(pa.array(np.lexsort((counters, times)))).combine_chunks()


def _cut(rows: pa.Table, part: BulkPart, time: str, from_us: int | None, to_us: int | None) -> pa.Table:
    """Rows of a part, which are in order of time, in [from_us, to_us)."""
    inside = (from_us is None or part.min_us >= from_us) and (to_us is None or part.max_us < to_us)
    if inside:
        return rows
    times = rows.column(time).cast(pa.int64()).to_numpy()
    low = 0 if from_us is None else int(np.searchsorted(times, from_us))
    high = len(times) if to_us is None else int(np.searchsorted(times, to_us))
    return rows.slice(low, max(0, high - low))


def _follow(pieces: Sequence[pa.Table], time: str) -> bool:
    """Whether each piece begins after the one before has ended."""
    filled = [piece.column(time) for piece in pieces if len(piece)]
    return all(pc.less(a[-1], b[0]).as_py() for a, b in pairwise(filled))


def _with_reason(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows set aside with the sentence of their code and values, which come last."""
    code, values = rows.pop("code"), rows.pop("code_values")
    rows.insert(list(rows.columns).index("row"), "reason", _in_english(code, values))
    return rows.assign(code=code, values=values)


def _in_english(codes: pd.Series, values: pd.Series) -> list[str]:
    return [str(recalled(code, held)) for code, held in zip(codes, values, strict=True)]
