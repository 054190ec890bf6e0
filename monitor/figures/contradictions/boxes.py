"""How many pieces containers can have held at most."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from monitor.figures.contradictions.made import PiecesMade
from monitor.ledger import Placed, Snapshot
from monitor.plant.book import Record


class Boxes:
    """Some containers with what was packed into them, and the first looks that inspections took into them."""

    def __init__(self, snapshot: Snapshot, names: Iterable[str]) -> None:
        wanted = set(names)
        self._rows: dict[str, Record] = {
            row["container_id"]: row for row in snapshot.lookup("containers", "container_id", wanted)
        }
        self._packed: dict[str, list[Record]] = defaultdict(list)
        for move in snapshot.lookup("repacks", "to_container", wanted):
            self._packed[move["to_container"]].append(move)
        self._looks: dict[str, dict[str, list[Placed]]] = defaultdict(lambda: defaultdict(list))
        for row in snapshot.placed("inspections", "container_id", wanted):
            if not row.row["rechecks"]:
                self._looks[row.row["container_id"]][row.row["inspection_id"]].append(row)

    def inspections(self, name: str) -> Mapping[str, Sequence[Placed]]:
        """Return the rows of the first inspections of a container, by inspection."""
        return self._looks[name]

    def held(self, name: str) -> int | None:
        """Return the pieces counted into a container, packed into it since and sorted out of it.

        It may have been counted after it was sorted.  None where it was not counted and nothing was packed into it.
        """
        row, packed = self._rows.get(name), self._pieces(name)
        if row is None:
            return None
        rejected = sum(one.row["rejected"] or 0 for rows in self._looks[name].values() for one in rows)
        if row["quantity"] is None:
            return packed + rejected if packed else None
        return max(packed, int(row["quantity"]) + self._pieces(name, row["closed_at"])) + rejected

    def filled(self, name: str, made: PiecesMade, wanted: int) -> int | None:
        """Return the pieces that can have fallen into a container or were packed into it, where `wanted` are more.

        None where they are not, or nobody knows.
        """
        row = self._rows.get(name)
        if row is None:
            return None
        times = [one.row["time"] for rows in self._looks[name].values() for one in rows]
        span = (row["press_id"], row["opened_at"], row["closed_at"] or max(times, default=row["opened_at"]))
        about, packed = (row["part_no"], row["out"]), self._pieces(name)
        if wanted <= made.pieces(*span, *about) + packed or not made.is_known(*span):
            return None
        limit = made.at_most(*span, *about) + packed
        return limit if wanted > limit else None

    def _pieces(self, name: str, since_us: int | None = None) -> int:
        """Return the pieces packed into a container, all of them or those later than a moment [us]."""
        moves = self._packed[name]
        return sum(int(move["quantity"]) for move in moves if since_us is None or move["time"] > since_us)
