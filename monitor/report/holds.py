"""The holds open at the end of a week and the containers they bear on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import pandas as pd

from monitor.figures.genealogy.holds import EMPTIED, held_pieces
from monitor.ledger import Snapshot
from monitor.plant.book import Book, Record
from monitor.plant.records import records


@dataclass(frozen=True)
class HeldBox:
    """A container that a hold bears on, the pieces concerned (None = not known), to whom it was sent (none: here)."""

    container_id: str
    part_no: str
    customers: tuple[str, ...]
    pieces: int | None


@dataclass(frozen=True)
class OpenHold:
    """An open hold and the containers it bears on."""

    hold_id: str
    placed_us: int
    scope: str
    value: str
    boxes: Sequence[HeldBox]


def open_holds(snapshot: Snapshot, to_us: int, book: Book) -> list[OpenHold]:
    """Return the holds in force at an instant [us since 1970 UTC], with the containers each covers."""
    rows = records(snapshot.rows("holds", None, None, to_us))
    return [
        OpenHold(row["hold_id"], row["placed_at"], row["scope"], row["value"], [*_boxes(snapshot, row, to_us, book)])
        for row in rows
        if row["lifted_at"] is None or row["lifted_at"] >= to_us
    ]


def _boxes(snapshot: Snapshot, hold: Record, to_us: int, book: Book) -> Iterator[HeldBox]:
    until_us = to_us if hold["to"] is None else hold["to"]
    found = held_pieces(snapshot, hold["scope"], hold["value"], (hold["from"], until_us), book=book)
    rows = found.boxes[found.boxes["state"] != EMPTIED]
    columns = (rows[name].tolist() for name in ("container_id", "part_no", "customers", "here"))
    for name, part_no, customers, here in zip(*columns, strict=True):
        yield HeldBox(name, part_no, customers, None if pd.isna(here) else here)
