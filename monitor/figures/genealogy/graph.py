"""The genealogy of containers: their pieces, accounts and shipments, traced back to coils and reels."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from monitor.figures.genealogy.press_spans import Span
from monitor.figures.genealogy.reader import GenealogyReader
from monitor.ledger import Snapshot
from monitor.plant.book import Book, Record
from monitor.plant.records import records
from monitor.reckoning.pieces.account import accounts
from monitor.reckoning.pieces.boxes import BoxPieces, Falls, contents, falls_of
from monitor.reckoning.pieces.containers import Accounts, Box, Repack, ShippedBox
from monitor.reckoning.pieces.genealogy import Descent, Reel
from monitor.reckoning.pieces.stretches import MadeStretch
from shared.durations import HOUR_US

#: Containers of which more than this have their repacks read with all others.
_MANY = 2_000


@dataclass(frozen=True)
class Genealogy:
    """Containers with what is in them, their accounts and shipments, and the strip they came from."""

    boxes: Mapping[str, Box]
    held: Mapping[str, BoxPieces]
    falls: Mapping[str, Falls]
    accounts: Accounts
    sent: Sequence[Record]
    descent: Descent
    coils: Mapping[str, Record]
    reels: Mapping[str, Reel]


def _nothing(falls: Mapping[str, Falls]) -> Collection[str]:
    return ()


def genealogy_of(
    snapshot: Snapshot,
    rows: Iterable[Record],
    book: Book,
    *,
    sure: bool = False,
    holds: Callable[[Mapping[str, Falls]], Collection[str]] = _nothing,
) -> Genealogy:
    """Trace containers (rows of `containers`), and those that pieces were packed over from, back to their coils.

    `sure` also finds by how many pieces the readings leave it uncertain where one coil ends and the next begins.
    Origins of pieces that ever were in a container that `holds` names, by what fell in, are marked as held.
    """
    reader = GenealogyReader(snapshot, book, sure)
    repacks, found = packed(snapshot, {row["container_id"]: row for row in rows})
    sorted_out = reader.sorted_out(set(found), repacks)
    boxes = reader.boxes(found.values())
    made = reader.made(spans_of(boxes, HOUR_US if sure else 0))
    mountings, reels, strip = reader.strip(stretch.mounting_id for some in made.values() for stretch in some)
    descent = Descent(mountings, reels, strip)
    falls = {box.container_id: falls_of(box, around(made, box), descent.runs, sure=sure) for box in boxes}
    fell = {name: sum(fall.count for fall in some.inside) for name, some in falls.items()}
    sent = snapshot.lookup("shipments", "container_id", set(found))
    kept = accounts(boxes, with_sorted(fell, sorted_out), [*repacks, *sorted_out], shipments_of(sent))
    held = contents(boxes, falls, kept, descent.doubt, holds(falls))
    named = {box.container_id: box for box in boxes}
    return Genealogy(
        named, held, falls=falls, accounts=kept, sent=sent, descent=descent, coils=reader.coils, reels=reels
    )


def with_sorted(fell: Mapping[str, int], sorted_out: Iterable[Repack]) -> dict[str, int]:
    """Return what fell into containers with what was sorted out of them and left out there."""
    whole = dict(fell)
    for move in sorted_out:
        if not move.fell:
            whole[move.from_container] = whole.get(move.from_container, 0) + move.quantity
    return whole


def shipments_of(rows: Iterable[Record]) -> list[ShippedBox]:
    """Return rows of `shipments` as the reckoning wants them."""
    return [ShippedBox(row["shipped_at"], row["shipment_id"], row["container_id"]) for row in rows]


def packed(snapshot: Snapshot, rows: dict[str, Record]) -> tuple[list[Repack], dict[str, Record]]:
    """Return all repacks that bear on some containers, with the containers at either end of them."""
    found = dict(rows)
    repacks: dict[tuple[int, str, str], Repack] = {}
    names = set(found)
    # Repacks are few beside containers: all of them are read sooner than those of many containers are looked up.
    every = records(snapshot.rows("repacks")) if len(names) > _MANY else None
    while names:
        if every is None:
            ends = ("from_container", "to_container")
            moves = [row for end in ends for row in snapshot.lookup("repacks", end, names)]
        else:
            moves = [row for row in every if row["from_container"] in names or row["to_container"] in names]
        for row in moves:
            key = (row["time"], row["from_container"], row["to_container"])
            repacks[key] = Repack(*key, row["quantity"])
        names = {name for _, *ends in repacks for name in ends} - set(found)
        found |= {row["container_id"]: row for row in snapshot.lookup("containers", "container_id", names)}
        names &= set(found)
    return list(repacks.values()), found


def spans_of(boxes: Iterable[Box], around_us: int) -> dict[str, list[Span]]:
    """Return, by press, when containers stood open and some time around it [us]."""
    spans: dict[str, list[Span]] = defaultdict(list)
    for box in boxes:
        if box.to_us > box.from_us:
            spans[box.press_id].append((box.from_us - around_us, box.to_us + around_us))
    return spans


def around(made: Mapping[str, list[MadeStretch]], box: Box) -> Sequence[MadeStretch]:
    """Return the stretches that may reach into a container or the hour around it; none is longer than an hour."""
    some = made.get(box.press_id, [])
    low = bisect_right(some, box.from_us - 2 * HOUR_US - 1, key=lambda m: m.from_us)
    high = bisect_right(some, box.to_us + HOUR_US, key=lambda m: m.from_us)
    return some[low:high]
