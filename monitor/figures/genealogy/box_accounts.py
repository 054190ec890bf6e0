"""The accounts of containers without their coils: what is inside, and what each shipment took."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace

from monitor.figures.genealogy.graph import around, packed, shipments_of, spans_of, with_sorted
from monitor.figures.genealogy.reader import GenealogyReader
from monitor.ledger import Snapshot
from monitor.plant.book import Book, Record
from monitor.reckoning.pieces.account import accounts
from monitor.reckoning.pieces.boxes import fallen
from monitor.reckoning.pieces.containers import Accounts


def accounts_of(snapshot: Snapshot, rows: Iterable[Record], book: Book) -> Accounts:
    """Return the accounts of containers (rows of `containers`) and of those that pieces were packed over from or into.

    What fell in is only read where the count alone does not say what is inside.
    """
    return _accounts_of(snapshot, rows, book, every=True)


def shipped_of(snapshot: Snapshot, rows: Iterable[Record], book: Book) -> Mapping[tuple[str, str], int | None]:
    """Return what each shipment took of containers (rows of `containers`), by shipment and container.

    None where nobody knows how much was inside.
    """
    return _accounts_of(snapshot, rows, book, every=False).sent


def _accounts_of(snapshot: Snapshot, rows: Iterable[Record], book: Book, *, every: bool) -> Accounts:
    """Return accounts; unless of `every` container, those that were counted and sent once only have their shipment."""
    reader = GenealogyReader(snapshot, book, sure=False)
    repacks, found = packed(snapshot, {row["container_id"]: row for row in rows})
    sorted_out = reader.sorted_out(set(found), repacks)
    moved = {name for move in (*repacks, *sorted_out) for name in (move.from_container, move.to_container)}
    sent = shipments_of(snapshot.lookup("shipments", "container_id", set(found)))
    times = Counter(one.container_id for one in sent)
    asked = [row for name, row in found.items() if every or row["quantity"] is None or name in moved or times[name] > 1]
    boxes = reader.boxes(asked)
    filled = [box for box in boxes if box.quantity is None or box.container_id in moved]
    made = reader.made(spans_of(filled, 0))
    fell = {box.container_id: fallen(box, around(made, box)) for box in filled}
    names = {box.container_id for box in boxes}
    plain = {(s.shipment_id, s.container_id): found[s.container_id]["quantity"] for s in sent}
    whole = accounts(
        boxes, with_sorted(fell, sorted_out), [*repacks, *sorted_out], [s for s in sent if s.container_id in names]
    )
    return replace(whole, sent=plain | dict(whole.sent))
