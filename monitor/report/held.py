"""The holds open at the end of a week and the containers they bear on."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from monitor.book import Record
from monitor.figures import trace as genealogy
from monitor.ledger import Snapshot
from monitor.records import records

_WEEK_US = 7 * 86_400 * 1_000_000
_COLUMNS = ["container_id", "part_no", "customer", "pieces"]


@dataclass(frozen=True)
class Held:
    """An open hold and the containers it bears on: container_id, part_no, customer, pieces still in them."""

    hold_id: str
    placed_us: int
    scope: str
    value: str
    boxes: pd.DataFrame


@dataclass(frozen=True)
class Standing:
    """The holds that stand at an instant, what each bears on, and rows of the containers they may be about."""

    rows: Sequence[Record]
    coils: Mapping[str, set[str]]
    named: Mapping[str, set[str]]
    boxes: Sequence[Record]

    def held(self, table: pd.DataFrame) -> list[Held]:
        """Return the holds with their containers; `table` of `traced` holds these and may hold others."""
        # What was packed over is counted where it lies now.
        here = table.assign(pieces=table["here"])
        found = []
        for row in self.rows:
            boxes = _of(here, self.coils[row["hold_id"]], self.named[row["hold_id"]])
            found.append(Held(row["hold_id"], row["placed_at"], row["scope"], row["value"], boxes))
        return found


def standing(snapshot: Snapshot, to_us: int, parts: Collection[str] | None = None) -> Standing:
    """Return the holds that stand at an instant [us since 1970 UTC], with the containers of some parts or of all."""
    rows = records(snapshot.rows("holds", None, None, to_us))
    still = [row for row in rows if row["lifted_at"] is None or row["lifted_at"] >= to_us]
    coils = {row["hold_id"]: genealogy.coils_of(snapshot, row["scope"], row["value"]) for row in still}
    named = {row["hold_id"]: _named(snapshot, row, to_us) for row in still}
    boxes = genealogy.filled_from(snapshot, set().union(*coils.values()))
    wanted = set().union(*named.values()) - set(boxes)
    boxes |= {row["container_id"]: row for row in snapshot.lookup("containers", "container_id", wanted)}
    return Standing(still, coils, named, [r for r in boxes.values() if parts is None or r["part_no"] in parts])


def _of(table: pd.DataFrame, coils: set[str], named: set[str]) -> pd.DataFrame:
    """Return the containers with pieces of some coils, one of several included, or of some names."""
    both = zip(table["container_id"], table["coil_id"], table["reels"], strict=True)
    held = [box in named or not coils.isdisjoint((*c.split(";"), *r.split(";"))) for box, c, r in both]
    if not any(held):
        return pd.DataFrame(columns=_COLUMNS)
    some = table.loc[held, _COLUMNS]
    return some[some["pieces"] != 0].groupby(_COLUMNS[:-1], as_index=False).agg({"pieces": "sum"})


def _named(snapshot: Snapshot, hold: Record, to_us: int) -> set[str]:
    """Return the container a hold names; for a die or a stretch of time, those open on its presses meanwhile."""
    if hold["scope"] == "container":
        return {hold["value"]}
    if hold["scope"] not in ("die", "range"):
        return set()
    # Without a stretch of its own a hold reaches from a week before it was placed to the end of the week.
    from_us = hold["from"] if hold["from"] is not None else hold["placed_at"] - _WEEK_US
    until_us = hold["to"] if hold["to"] is not None else to_us
    return set(genealogy.made_by(snapshot, hold["scope"], hold["value"], (from_us, until_us)))
