"""The holds open at the end of a week and the containers they bear on."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import pandas as pd

from monitor.book import Record
from monitor.figures import trace as genealogy
from monitor.ledger import Snapshot
from monitor.records import records

_WEEK_US = 7 * 86_400 * 1_000_000


class HeldBox(NamedTuple):
    """A container that a hold bears on, and the pieces concerned that are still in it."""

    container_id: str
    part_no: str
    customer: str
    pieces: int


@dataclass(frozen=True)
class Held:
    """An open hold and the containers it bears on."""

    hold_id: str
    placed_us: int
    scope: str
    value: str
    boxes: Sequence[HeldBox]


@dataclass(frozen=True)
class Standing:
    """The holds that stand at an instant, what each bears on, and rows of the containers they may be about."""

    rows: Sequence[Record]
    coils: Mapping[str, set[str]]
    named: Mapping[str, set[str]]
    boxes: Sequence[Record]

    def held(self, table: pd.DataFrame) -> list[Held]:
        """Return the holds with their containers; `table` of `traced` holds these and may hold others."""
        rows = [*zip(*(table[name] for name in ("coils", "came_by", *_BOX)), strict=True)]
        of_coil, of_box = _places(rows)
        found = []
        for row in self.rows:
            hold_id = row["hold_id"]
            places = {at for coil in self.coils[hold_id] for at in of_coil.get(coil, ())}
            places |= {at for box in self.named[hold_id] for at in of_box.get(box, ())}
            boxes = _summed(HeldBox(*rows[at][2:]) for at in sorted(places))
            found.append(Held(hold_id, row["placed_at"], row["scope"], row["value"], boxes))
        return found


# What was packed over is counted where it lies now.
_BOX = ("container_id", "part_no", "customer", "here")


def _places(rows: Iterable[tuple[Any, ...]]) -> tuple[Mapping[str, list[int]], Mapping[str, list[int]]]:
    """Return which rows bear on a coil or reel, one of several included, and which on a container."""
    of_coil: dict[str, list[int]] = defaultdict(list)
    of_box: dict[str, list[int]] = defaultdict(list)
    for at, (coils, reels, container_id, *_) in enumerate(rows):
        for name in (*coils, *reels):
            of_coil[name].append(at)
        of_box[container_id].append(at)
    return of_coil, of_box


def _summed(boxes: Iterable[HeldBox]) -> list[HeldBox]:
    """Return each container once, with all its pieces concerned; one without any is left out."""
    pieces: dict[tuple[str, str, str], int] = defaultdict(int)
    for container_id, part_no, customer, count in boxes:
        if count:
            pieces[container_id, part_no, customer] += count
    return [HeldBox(*box, count) for box, count in pieces.items()]


def standing(snapshot: Snapshot, to_us: int, parts: Collection[str] | None = None) -> Standing:
    """Return the holds that stand at an instant [us since 1970 UTC], with the containers of some parts or of all."""
    rows = records(snapshot.rows("holds", None, None, to_us))
    still = [row for row in rows if row["lifted_at"] is None or row["lifted_at"] >= to_us]
    of_value = genealogy.coils_by(snapshot, ((row["scope"], row["value"]) for row in still))
    coils = {row["hold_id"]: of_value[row["scope"], row["value"]] for row in still}
    named = {row["hold_id"]: _named(snapshot, row, to_us) for row in still}
    boxes = genealogy.filled_from(snapshot, set().union(*coils.values()), parts)
    wanted = set().union(*named.values()) - set(boxes)
    boxes |= {row["container_id"]: row for row in snapshot.lookup("containers", "container_id", wanted)}
    return Standing(still, coils, named, [r for r in boxes.values() if parts is None or r["part_no"] in parts])


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
