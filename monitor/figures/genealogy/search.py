"""Looks for what a name stands for, and traces it: a container or shipment back, a coil, lot or heat forward."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from monitor.figures.genealogy.graph import packed
from monitor.figures.genealogy.open_boxes import filled_from
from monitor.figures.genealogy.trace import Traced, traced
from monitor.ledger import Ledger, Snapshot
from monitor.plant.book import Book, Record, plant_of
from shared.errors import RequestError
from shared.identifiers import as_identifier


def trace_of(
    ledger: Ledger | Snapshot,
    *,
    container: str | None = None,
    shipment: str | None = None,
    coil: str | None = None,
    lot: str | None = None,
    heat: str | None = None,
    sure: bool = True,
) -> Traced:
    """Trace one container or shipment back to its coils, or a coil (or reel), lot or heat forward to its containers.

    Reads only what bears on it.  The table has the columns of the figure, of `DETAILS` and of `EACH`; a coil that is
    one of several is a `;`-list, pieces of no known coil and the difference from the count have none.  Times are Int64
    [us since 1970 UTC].  Raises RequestError unless exactly one thing is asked for.
    """
    asked = {"container": container, "shipment": shipment, "coil": coil, "lot": lot, "heat": heat}
    given = {name: value for name, value in asked.items() if value}
    if len(given) != 1:
        raise RequestError("trace", f"{len(given)} things to look for", f"one of {', '.join(asked)}", "name one")
    ((scope, value),) = given.items()
    return trace_by(ledger, scope, value, sure=sure)


def trace_by(
    ledger: Ledger | Snapshot, scope: str, value: str, *, sure: bool = True, book: Book | None = None
) -> Traced:
    """Trace what is named by its scope (container, shipment, coil, lot, heat); see `trace_of`.

    `book` is the plant book of that version where it has been read already.
    """
    snapshot, value = ledger if isinstance(ledger, Snapshot) else ledger.snapshot(), as_identifier(value)
    book = book or small_book(snapshot)
    coils = coils_of(snapshot, scope, value)
    rows = _containers(snapshot, scope, value, coils)
    found = traced(snapshot, rows.values(), book, sure=sure)
    if scope in ("coil", "lot", "heat"):
        table = found.table[_bears_on(found.table, coils)]
        return replace(found, table=table.reset_index(drop=True))
    return found


def coils_of(snapshot: Snapshot, scope: str, value: str) -> set[str]:
    """Return the coils of a coil, lot or heat; a coil may also be a reel."""
    return coils_by(snapshot, [(scope, value)])[scope, value]


def coils_by(snapshot: Snapshot, named: Iterable[tuple[str, str]]) -> dict[tuple[str, str], set[str]]:
    """Return the same for several things, by scope and value."""
    found: dict[tuple[str, str], set[str]] = {(scope, v): {v} if scope == "coil" else set() for scope, v in named}
    for scope in ("lot", "heat"):
        for row in snapshot.lookup("coils", scope, [value for kind, value in found if kind == scope]):
            found[scope, row[scope]].add(row["coil_id"])
    return found


def scopes_of(snapshot: Snapshot, value: str) -> list[str]:
    """Return what a name is known as: container, shipment, coil (or reel), lot, heat."""
    columns = {
        "container": [("containers", "container_id")],
        "shipment": [("shipments", "shipment_id")],
        "coil": [("coils", "coil_id"), ("reels", "reel_id")],
        "lot": [("coils", "lot")],
        "heat": [("coils", "heat")],
    }
    return [scope for scope, where in columns.items() if any(snapshot.lookup(*at, [value]) for at in where)]


def small_book(snapshot: Snapshot) -> Book:
    """Read the book without coils and reels, which may be many."""
    return Book.read(snapshot, plant_of(snapshot.plant_text())).of_coils(())


def _containers(snapshot: Snapshot, scope: str, value: str, coils: Collection[str]) -> dict[str, Record]:
    if scope == "container":
        rows = snapshot.lookup("containers", "container_id", [value])
    elif scope == "shipment":
        names = [row["container_id"] for row in snapshot.lookup("shipments", "shipment_id", [value])]
        rows = snapshot.lookup("containers", "container_id", names)
    else:
        _, found = packed(snapshot, filled_from(snapshot, coils))
        return found
    return {row["container_id"]: row for row in rows}


def _bears_on(table: pd.DataFrame, coils: set[str]) -> npt.NDArray[np.bool_]:
    """Tell which rows name one of the coils, or came by one of them as a reel."""
    both = zip(table["coils"], table["came_by"], strict=True)
    return np.array([not coils.isdisjoint((*c, *r)) for c, r in both], dtype=np.bool_)
