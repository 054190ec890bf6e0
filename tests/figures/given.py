"""Facts and a plant book for the figure tests, from the few columns that matter."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

import pandas as pd

from monitor.plant.book import Book
from shared.facts import FACTS, FactKind
from shared.plant import Plant
from shared.tables import TABLES

SECOND = 1_000_000
DAY = "2026-11-02"
START_US = int(dt.datetime(2026, 11, 2, 6, tzinfo=dt.UTC).timestamp()) * SECOND

_EMPTY = {FactKind.TEXT: "", FactKind.INTEGER: 0, FactKind.REAL: 0.0}
_PANDAS = {FactKind.TEXT: "str", FactKind.INTEGER: "int64", FactKind.REAL: "float64"}
_USUAL = {"press_id": "P1", "day": DAY, "shift_date": DAY, "shift": "early", "die_id": "D1", "part_no": "N1"}


def facts(kind: str, /, *records: Mapping[str, object], **same: object) -> pd.DataFrame:
    """Facts of a kind; what a record leaves out is that of press P1, die D1, part N1, or nothing."""
    columns = FACTS[kind].columns
    usual = {name: _USUAL.get(name, _EMPTY[column]) for name, column in columns}
    frame = pd.DataFrame([{**usual, **same, **record} for record in records], columns=[name for name, _ in columns])
    nullable = {"mounted_us": "Int64", "removed_us": "Int64"}
    return frame.astype({name: nullable.get(name, _PANDAS[column]) for name, column in columns})


def book(**tables: list[dict[str, Any]]) -> Book:
    """A plant book in UTC with these rows; the columns they leave out are missing."""
    names = (
        "presses",
        "dies",
        "stations",
        "outs",
        "routes",
        "reasons",
        "parts",
        "materials",
        "coils",
        "reels",
        "causes",
    )
    filled = {
        name: tuple({**dict.fromkeys(TABLES[name].columns), **row} for row in tables.get(name, ())) for name in names
    }
    return Book(Plant(timezone="UTC"), filled)
