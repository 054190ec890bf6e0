"""The plant book as it was on any plant day: presses, dies, parts, reasons and the rest, looked up by key and day.

A row holds from the first plant day it names (`valid_from`; empty = always) until one of the same key with a later day.
What is asked of the book is asked of a day, so that a row dated later changes nothing that happened before.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from bisect import bisect_right
from collections import ChainMap
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from types import MappingProxyType
from typing import Any, Protocol

import pyarrow as pa

from monitor.reckoning.press.press_day import Die, Out, Press, Reason
from shared.calendar import Calendar
from shared.durations import SECOND_US
from shared.plant import ALWAYS, Plant
from shared.tables import TABLES

Record = Mapping[str, Any]
Day = dt.date | str

#: What a fold depends on.
_OF_FOLDS = ("presses", "dies", "stations", "outs", "routes", "reasons")
#: Tables of which each row holds from a day on.
_DATED = tuple(table.name for table in TABLES.values() if table.group == "book")
#: These grow with every delivery, and few questions need all of them.
_LONG = ("coils", "reels")
_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_US = dt.timedelta(microseconds=1)
_NONE: Record = MappingProxyType({})


class Rows(Protocol):
    """Whatever hands out the current rows of an input table."""

    def rows(self, table: str) -> pa.Table:
        """Return the current rows of a table."""
        ...


class _OnDemand(Mapping[str, tuple[Record, ...]]):
    """Tables of the book, each read when it is first asked for."""

    def __init__(self, rows: Rows) -> None:
        self._rows = rows
        self._read: dict[str, tuple[Record, ...]] = {}

    def __getitem__(self, name: str) -> tuple[Record, ...]:
        if name not in self._read and name in (*_DATED, *_LONG):
            self._read[name] = tuple(self._rows.rows(name).to_pylist())
        return self._read[name]

    def __iter__(self) -> Iterator[str]:
        return iter((*_DATED, *_LONG))

    def __len__(self) -> int:
        return len(_DATED) + len(_LONG)


class _AsOf(Mapping[str, tuple[Record, ...]]):
    """Tables of a book as it stood on one plant day."""

    def __init__(self, book: Book, day: dt.date) -> None:
        self._book = book
        self._day = day

    def __getitem__(self, name: str) -> tuple[Record, ...]:
        return self._book.rows_on(name, self._day) if name in _DATED else self._book.tables[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._book.tables)

    def __len__(self) -> int:
        return len(self._book.tables)


def plant_of(text: str | None) -> Plant:
    """Return the plant of a plant.toml's text; one in UTC without shifts where none has been loaded."""
    return Plant.from_toml(text, "plant.toml") if text else Plant(timezone="UTC")


@dataclass(frozen=True)
class Book:
    """The plant book: its rows by table, of all days, and the plant."""

    plant: Plant
    tables: Mapping[str, tuple[Record, ...]]

    @classmethod
    def read(cls, rows: Rows, plant: Plant) -> Book:
        """Read the book from whatever holds its rows; each table only when it is first asked for."""
        return cls(plant, _OnDemand(rows))

    def of_coils(self, coils: Iterable[Record], reels: Iterable[Record] = ()) -> Book:
        """Return the book as if these were all the coils and reels there are."""
        return replace(self, tables=ChainMap({"coils": tuple(coils), "reels": tuple(reels)}, self.tables))  # type: ignore[arg-type]

    def as_of(self, day: dt.date) -> Book:
        """Return the book of one plant day: of each key the row that held on it, and no other."""
        return replace(self, tables=_AsOf(self, day))

    def rows_on(self, table: str, day: Day) -> tuple[Record, ...]:
        """Return the rows of a table that held on a plant day, one a key."""
        return self._history(table).on(_date(day))

    def row(self, table: str, day: Day, *key: object) -> Record:
        """Return the row of a key that held on a plant day (a date or its ISO text); empty where there was none."""
        return self._history(table).row(key, _date(day))

    def column(self, table: str, column: str, days: Iterable[Day], *keys: Iterable[object]) -> list[Any]:
        """Return one column of the rows that held, one for each plant day and key; None where it is not known."""
        seen: dict[tuple[object, ...], Any] = {}
        found = []
        for day, *key in zip(days, *keys, strict=True):
            name = (day, *key)
            if name not in seen:
                seen[name] = self.row(table, day, *key).get(column)
            found.append(seen[name])
        return found

    def day_of(self, us: int) -> dt.date:
        """Return the plant day of a moment [us since 1970 UTC]; beyond all dates the first or last there is."""
        try:
            return self.calendar.plant_day(us)
        except (OverflowError, ValueError):
            return dt.date.max if us > 0 else dt.date.min

    @cached_property
    def coils(self) -> Mapping[str, Record]:
        """Return the coils by their names."""
        return {row["coil_id"]: row for row in self.tables["coils"]}

    @cached_property
    def calendar(self) -> Calendar:
        """Return the plant's calendar."""
        return Calendar(self.plant)

    @cached_property
    def changes(self) -> tuple[dt.date, ...]:
        """Return the plant days from which something that folds depend on differs, the first long ago."""
        dated = {_since(row) for name in _OF_FOLDS for row in self.tables.get(name, ())}
        return tuple(sorted({ALWAYS, *dated}))

    @cached_property
    def fingerprint(self) -> str:
        """Return a short text that differs when anything that folds depend on differs."""
        wanted = {name: self.tables[name] for name in _OF_FOLDS}
        text = json.dumps([wanted, self.plant.model_dump(mode="json", exclude={"report"})], sort_keys=True, default=str)
        return hashlib.sha256(text.encode()).hexdigest()[:16]

    def on(self, moment: dt.datetime) -> DayBook:
        """Return what folds want of the book on the plant day of a moment."""
        return self.page(self.day_of((moment - _EPOCH) // _US))

    def page(self, day: Day) -> DayBook:
        """Return what folds want of the book on a plant day."""
        return self._pages(self.changes[bisect_right(self.changes, _date(day)) - 1])

    @cached_property
    def _pages(self) -> Callable[[dt.date], DayBook]:
        # Kept with the book and no longer: a server reads a book with every version.
        return lru_cache(maxsize=64)(self._page)

    def _page(self, day: dt.date) -> DayBook:
        held = self.as_of(day).tables
        return DayBook(
            presses={row["press_id"]: row for row in held["presses"]},
            dies=_dies(held),
            reasons={row["reason"]: _reason(row) for row in held["reasons"]},
            stop_after_s=self.plant.stop_after_s,
        )

    @cached_property
    def _histories(self) -> dict[str, _DatedRows]:
        return {}

    def _history(self, table: str) -> _DatedRows:
        if table not in self._histories:
            self._histories[table] = _DatedRows(self.tables.get(table, ()), TABLES[table].names)
        return self._histories[table]

    def __hash__(self) -> int:
        """Two books are one book only if they are the same object."""
        return id(self)


class _DatedRows:
    """The rows of one table by key, each with the plant days from which they hold."""

    def __init__(self, rows: Iterable[Record], key: Sequence[str]) -> None:
        by_key: dict[tuple[object, ...], list[Record]] = {}
        for row in rows:
            by_key.setdefault(tuple(row[column] for column in key), []).append(row)
        ordered = {name: sorted(some, key=_since) for name, some in by_key.items()}
        self._by_key = {name: ([_since(row) for row in some], some) for name, some in ordered.items()}
        self._changes = sorted({day for since, _ in self._by_key.values() for day in since})
        self._held: dict[int, tuple[Record, ...]] = {}

    def row(self, key: tuple[object, ...], day: dt.date) -> Record:
        """Return the row of a key that held on a day, empty where there was none."""
        since, rows = self._by_key.get(key, ([], []))
        at = bisect_right(since, day)
        return rows[at - 1] if at else _NONE

    def on(self, day: dt.date) -> tuple[Record, ...]:
        """Return the rows that held on a day, in the order in which their keys came."""
        at = bisect_right(self._changes, day)
        if at not in self._held:
            rows = (self.row(key, day) for key in self._by_key)
            self._held[at] = tuple(row for row in rows if row)
        return self._held[at]


@dataclass(frozen=True)
class DayBook:
    """What folds want of the book as it stood on one plant day."""

    presses: Mapping[str, Record]
    dies: Mapping[str, Die]
    reasons: Mapping[str, Reason]
    stop_after_s: float

    def press(self, press_id: str) -> Press:
        """Return a press as the reckoning wants it; what the book leaves out is the plant's."""
        row = self.presses.get(press_id, {})
        stop_after_s = row.get("stop_after_s") or self.stop_after_s
        return Press(
            press_id,
            stop_after_us=round(stop_after_s * SECOND_US),
            rated_spm=row.get("rated_spm"),
            modulus=row.get("counter_modulus"),
            lead_in_mm=row.get("lead_in_mm") or 0.0,
        )


def _dies(held: Mapping[str, Sequence[Record]]) -> dict[str, Die]:
    stations, outs, routes = (_by_die(held[name]) for name in ("stations", "outs", "routes"))
    dies = {}
    for row in held["dies"]:
        name = row["die_id"]
        mine = [o for o in outs.get(name, ()) if o["out"] <= row["parts_per_stroke"]]
        numbers = [s["station"] for s in stations.get(name, ())]
        last = max([1, *numbers, *(o["station"] for o in mine if o["station"])])
        part_no = next((r["part_no"] for r in routes.get(name, ())), "")
        listed = [Out(o["out"], o["part_no"], o["station"] or last) for o in sorted(mine, key=lambda o: o["out"])]
        plain = [Out(out, part_no, last) for out in range(1, row["parts_per_stroke"] + 1)]
        dies[name] = Die(name, row["pitch_mm"], row["rated_spm"], last, tuple(listed or plain))
    return dies


def _by_die(rows: Iterable[Record]) -> dict[str, list[Record]]:
    found: dict[str, list[Record]] = {}
    for row in rows:
        found.setdefault(row["die_id"], []).append(row)
    return found


def _reason(row: Record) -> Reason:
    in_planned = row.get("in_planned_time")
    return Reason(row["kind"], row["kind"] != "planned" if in_planned is None else in_planned)


def _since(row: Record) -> dt.date:
    since = row.get("valid_from")
    return since.date() if isinstance(since, dt.datetime) else since or ALWAYS


@lru_cache(maxsize=4096)
def _date(day: Day) -> dt.date:
    return dt.date.fromisoformat(day) if isinstance(day, str) else day
