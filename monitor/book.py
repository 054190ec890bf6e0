"""The plant book as the reckoning wants it: presses, dies, parts and reasons as they were on a given day."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any, Protocol

import pyarrow as pa

from monitor.reckoning.press import Die, Out, Press, Reason
from shared.calendar import Calendar
from shared.plant import Plant

Record = Mapping[str, Any]

#: What a fold depends on.
_OF_FOLDS = ("presses", "dies", "stations", "outs", "routes", "reasons")
_TABLES = (*_OF_FOLDS, "parts", "materials", "causes")
#: These grow with every delivery, and few questions need all of them.
_LONG = ("coils", "reels")
_LONG_AGO = dt.datetime.min.replace(tzinfo=dt.UTC)


class Rows(Protocol):
    """Whatever hands out the current rows of an input table."""

    def rows(self, table: str) -> pa.Table:
        """Return the current rows of a table."""
        ...


class _OnDemand(Mapping[str, tuple[Record, ...]]):
    """Tables of the book, of which the long ones are read when they are first asked for."""

    def __init__(self, rows: Rows) -> None:
        self._rows = rows
        self._read = {name: tuple(rows.rows(name).to_pylist()) for name in _TABLES}

    def __getitem__(self, name: str) -> tuple[Record, ...]:
        if name in _LONG and name not in self._read:
            self._read[name] = tuple(self._rows.rows(name).to_pylist())
        return self._read[name]

    def __iter__(self) -> Iterator[str]:
        return iter((*_TABLES, *_LONG))

    def __len__(self) -> int:
        return len(_TABLES) + len(_LONG)


def plant_of(text: str | None) -> Plant:
    """Return the plant of a plant.toml's text; one in UTC without shifts where none has been loaded."""
    return Plant.from_toml(text, "plant.toml") if text else Plant(timezone="UTC")


@dataclass(frozen=True)
class Book:
    """The plant book: its rows by table, and the plant."""

    plant: Plant
    tables: Mapping[str, tuple[Record, ...]]

    @classmethod
    def read(cls, rows: Rows, plant: Plant) -> Book:
        """Read the book from whatever holds its rows; coils and reels only when they are first asked for."""
        return cls(plant, _OnDemand(rows))

    def of_coils(self, coils: Iterable[Record], reels: Iterable[Record] = ()) -> Book:
        """Return the book as if these were all the coils and reels there are."""
        others = {name: self.tables[name] for name in self.tables if name not in _LONG}
        return Book(self.plant, {**others, "coils": tuple(coils), "reels": tuple(reels)})

    @cached_property
    def coils(self) -> Mapping[str, Record]:
        """Return the coils by their names."""
        return {row["coil_id"]: row for row in self.tables["coils"]}

    @cached_property
    def calendar(self) -> Calendar:
        """Return the plant's calendar."""
        return Calendar(self.plant)

    @cached_property
    def changes(self) -> tuple[dt.datetime, ...]:
        """Return the moments from which something in the book differs, the first a long time ago."""
        dates = {row["valid_from"] for name in _TABLES for row in self.tables.get(name, ()) if row.get("valid_from")}
        return tuple(sorted({_LONG_AGO, *(_moment(date) for date in dates)}))

    @cached_property
    def fingerprint(self) -> str:
        """Return a short text that differs when anything that folds depend on differs."""
        wanted = {name: self.tables[name] for name in _OF_FOLDS}
        text = json.dumps([wanted, self.plant.model_dump(mode="json", exclude={"report"})], sort_keys=True, default=str)
        return hashlib.sha256(text.encode()).hexdigest()[:16]

    def on(self, moment: dt.datetime) -> Page:
        """Return the book as it stood at a moment."""
        current = max(change for change in self.changes if change <= moment)
        return _page(self, current)

    def __hash__(self) -> int:
        """Two books are one book only if they are the same object."""
        return id(self)


@dataclass(frozen=True)
class Page:
    """The book as it stood at one moment."""

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
            stop_after_us=round(stop_after_s * 1_000_000),
            rated_spm=row.get("rated_spm"),
            modulus=row.get("counter_modulus"),
            lead_in_mm=row.get("lead_in_mm") or 0.0,
        )


@lru_cache(maxsize=64)
def _page(book: Book, moment: dt.datetime) -> Page:
    valid = {name: _valid(book.tables[name], moment) for name in _OF_FOLDS}
    return Page(
        presses={row["press_id"]: row for row in _latest(valid["presses"], "press_id")},
        dies=_dies(valid),
        reasons={row["reason"]: _reason(row) for row in _latest(valid["reasons"], "reason")},
        stop_after_s=book.plant.stop_after_s,
    )


def _dies(valid: Mapping[str, list[Record]]) -> dict[str, Die]:
    stations = _latest(valid["stations"], "die_id", "station")
    outs = _latest(valid["outs"], "die_id", "out")
    routes = _latest(valid["routes"], "part_no", "step")
    dies = {}
    for row in _latest(valid["dies"], "die_id"):
        name = row["die_id"]
        mine = [o for o in outs if o["die_id"] == name and o["out"] <= row["parts_per_stroke"]]
        numbers = [s["station"] for s in stations if s["die_id"] == name]
        last = max([1, *numbers, *(o["station"] for o in mine if o["station"])])
        part_no = next((r["part_no"] for r in routes if r["die_id"] == name), "")
        listed = [Out(o["out"], o["part_no"], o["station"] or last) for o in sorted(mine, key=lambda o: o["out"])]
        plain = [Out(out, part_no, last) for out in range(1, row["parts_per_stroke"] + 1)]
        dies[name] = Die(name, row["pitch_mm"], row["rated_spm"], last, tuple(listed or plain))
    return dies


def _reason(row: Record) -> Reason:
    in_planned = row.get("in_planned_time")
    return Reason(row["kind"], row["kind"] != "planned" if in_planned is None else in_planned)


def _moment(date: dt.date | dt.datetime) -> dt.datetime:
    if isinstance(date, dt.datetime):
        return date
    return dt.datetime.combine(date, dt.time(), dt.UTC)


def _valid(rows: Iterable[Record], moment: dt.datetime) -> list[Record]:
    return [row for row in rows if not row.get("valid_from") or _moment(row["valid_from"]) <= moment]


def _latest(rows: Iterable[Record], *key: str) -> list[Record]:
    """Keep, for each key, the row that became valid last."""
    best: dict[tuple[Any, ...], Record] = {}
    for row in rows:
        name = tuple(row[column] for column in key)
        held = best.get(name)
        if held is None or _since(row) >= _since(held):
            best[name] = row
    return list(best.values())


def _since(row: Record) -> dt.datetime:
    return _moment(row["valid_from"]) if row.get("valid_from") else _LONG_AGO
