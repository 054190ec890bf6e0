"""What a hold bears on: containers with their pieces, packed over too, who got them, and the coils still there."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

import pandas as pd

from monitor.figures.genealogy.open_boxes import made_by
from monitor.figures.genealogy.search import coils_of, small_book, trace_by
from monitor.figures.genealogy.trace import Traced, traced_from
from monitor.figures.strip import mounting_rows as strips
from monitor.figures.strip.coil_place import state
from monitor.figures.strip.mount_facts import mounts_of
from monitor.ledger import Ledger, Snapshot
from monitor.plant.book import Book, Record
from monitor.plant.carries import presses_of_coils
from monitor.plant.records import records
from monitor.reckoning.pieces.genealogy import Origin
from shared.durations import FOREVER_US
from shared.errors import RequestError
from shared.identifiers import as_identifier
from shared.phrases import phrase

#: Scopes of strip; the others are of containers.
OF_STRIP = ("coil", "lot", "heat")

#: Where the pieces of a container are.
SENT, FLOOR, EMPTIED = "sent", "on the floor", "emptied"

BOXES = (
    "container_id", "part_no", "state", "pieces", "here", "shipment_id", "customer", "coil_id", "press_id",
    "closed_at", "shipped_at", "shipments", "customers",
)  # fmt: skip
COILS = ("coil_id", "lot", "heat", "supplier", "state", "press_id", "kg")


@dataclass(frozen=True)
class HeldPieces:
    """What a hold covers, with the columns of `BOXES` (here = pieces in the container, or sent in it) and of `COILS`.

    `coil_id` is a `;`-list to be shown; `shipments` and `customers` hold those a container was sent to one by one.

    Of a container of which nobody knows how much is in it pieces are missing.
    A container whose pieces may be of what is held, or of something else, counts with all that may be.  `traced` are
    the same pieces, a row a container, coil and way through reels.
    """

    boxes: pd.DataFrame
    coils: pd.DataFrame
    traced: Traced


def holds(snapshot: Snapshot, *, everything: bool = False) -> pd.DataFrame:
    """Return the holds that stand, or all of them, newest first; times in microseconds since 1970 UTC."""
    rows = [row for row in records(snapshot.rows("holds")) if everything or row["lifted_at"] is None]
    names = ["hold_id", "placed_at", "lifted_at", "scope", "value", "from", "to", "reason", "outcome"]
    table = pd.DataFrame([[row[name] for name in names] for row in rows], columns=names)
    return table.sort_values("placed_at", ascending=False, kind="stable").reset_index(drop=True)


def hold_of(snapshot: Snapshot, hold_id: str) -> Record:
    """Return a hold by its number; raises RequestError where there is none."""
    found = snapshot.lookup("holds", "hold_id", [hold_id])
    if not found:
        expected, mend = phrase("a hold that was placed"), phrase("see them with strokeledger hold list")
        raise RequestError(phrase("hold"), repr(hold_id), expected, mend)
    return found[0]


def held_pieces(
    ledger: Ledger | Snapshot,
    scope: str,
    value: str,
    span: tuple[int | None, int | None],
    *,
    sure: bool = False,
    book: Book | None = None,
) -> HeldPieces:
    """Return what a hold of a scope and value covers; `span` [us] narrows a die or a range on a press.

    Whoever asks what is held asks here.  `sure` also finds how many pieces are certain; `book` is the plant book of
    that version where it has been read already.
    """
    snapshot, value = ledger if isinstance(ledger, Snapshot) else ledger.snapshot(), as_identifier(value)
    if scope in OF_STRIP:
        found = trace_by(snapshot, scope, value, sure=sure, book=book)
        # What is of no known coil is not of the coils held; a container or stretch is held whole.
        table = found.table[found.table["coil_id"] != ""]
    else:
        rows, is_made = _whole(snapshot, scope, value, span), scope != "container"
        found = traced_from(snapshot, rows, book or small_book(snapshot), sure=sure, fallen_only=is_made)
        table = found.table
    return HeldPieces(_boxes(table, found.unknown), _coils(snapshot, coils_of(snapshot, scope, value)), found)


def _whole(snapshot: Snapshot, scope: str, value: str, span: tuple[int | None, int | None]) -> Iterable[Record]:
    """Return the containers that are held with all that ever was in them."""
    if scope == "container":
        return snapshot.lookup("containers", "container_id", [value])
    return made_by(snapshot, scope, value, span).values()


def history(snapshot: Snapshot) -> pd.DataFrame:
    """Return all holds as `holds` does, with who placed and who lifted each (`placed_by`, `lifted_by`, "" = nobody)."""
    table = holds(snapshot, everything=True)
    people = {entered.load_id: entered.by for entered in snapshot.entries()}
    loads = snapshot.loads()
    names = dict(zip(loads["load_id"].tolist(), loads["file"].tolist(), strict=True)) | people
    placed: dict[str, str] = {}
    lifted: dict[str, str] = {}
    for stay in snapshot.stays("holds", -FOREVER_US, FOREVER_US):
        row, by = stay.row, str(names.get(stay.load_id, ""))
        placed.setdefault(row["hold_id"], by)
        if row["lifted_at"] is not None:
            lifted.setdefault(row["hold_id"], by)
    return table.assign(
        placed_by=[placed.get(name, "") for name in table["hold_id"]],
        lifted_by=[lifted.get(name, "") for name in table["hold_id"]],
    )


def _boxes(table: pd.DataFrame, unknown: Collection[str]) -> pd.DataFrame:
    keys = ["container_id", "part_no", "shipment_id", "customer", "press_id", "closed_at", "shipped_at"]
    sums = table.groupby([*keys, "shipments", "customers"], as_index=False, sort=True, dropna=False).agg(
        pieces=("pieces", "sum"),
        here=("here", "sum"),
        coil_id=("coils", _any_of),
    )
    nobody_knows = sums["container_id"].isin(list(unknown))
    states = zip(sums["shipment_id"], (sums["here"] != 0) | nobody_knows, strict=True)
    sums["state"] = [EMPTIED if not here else SENT if sent else FLOOR for sent, here in states]
    for name in ("pieces", "here"):
        sums[name] = sums[name].astype("Int64").mask(nobody_knows)
    return sums[list(BOXES)]


def _any_of(coils: Iterable[tuple[str, ...]]) -> str:
    """Return all coils named as they are shown, each once, those known without a doubt or not."""
    return Origin(tuple(dict.fromkeys(name for some in coils for name in some))).coil_id


def _coils(snapshot: Snapshot, names: Iterable[str]) -> pd.DataFrame:
    rows = snapshot.lookup("coils", "coil_id", set(names))
    known = {row["coil_id"]: row for row in rows}
    left = _left(snapshot, known)
    on = presses_of_coils(snapshot)
    table = []
    for name, row in sorted(known.items()):
        kg = left.get(name, row["weight_kg"])
        material = tuple(row[column] or "" for column in ("lot", "heat", "supplier"))
        table.append((name, *material, state(kg, row["weight_kg"], on.get(name, "")), on.get(name, ""), kg))
    return pd.DataFrame(table, columns=list(COILS)).astype({"kg": float})


def _left(snapshot: Snapshot, coils: Mapping[str, Record]) -> dict[str, float]:
    """Return what is left of the coils that were mounted [kg]."""
    chain = mounts_of(snapshot, coils)
    book = small_book(snapshot).of_coils(coils.values())
    table = strips.with_start(strips.with_material(strips.mountings(chain), book, {}))
    return dict(zip(table["coil_id"], table["remaining_kg"].tolist(), strict=True))
