"""Where holds in force apply: at the press, where a container is closed, and where a shipment goes out."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from monitor.figures.genealogy.holds import FLOOR, OF_STRIP, SENT, held_pieces, holds
from monitor.figures.genealogy.open_boxes import followed
from monitor.figures.genealogy.search import coils_of
from monitor.figures.strip.coil_place import STORE
from monitor.ledger import Snapshot
from monitor.plant.book import Record
from monitor.plant.carries import presses_of_coils

#: Strip under hold lies on a press; strip under hold in store fits what a press runs; a container that is here, and
#: a shipment that went out, has pieces under hold.
MOUNTED, NEXT, BOXED, SHIPPED = "mounted", "next", "boxed", "shipped"

_SIZE = ("material", "width_mm", "thickness_mm")


@dataclass(frozen=True)
class HoldPlace:
    """One place where a hold applies; `name` is the coil or reel, the container or the shipment.

    `at_us` is when the container was closed or sent, None while it is open; `after` tells that it was sent
    although the hold stood then; `pieces` is None where nobody knows how many.
    """

    kind: str
    hold_id: str
    held: str
    reason: str
    name: str = ""
    presses: tuple[str, ...] = ()
    pieces: int | None = 0
    customer: str = ""
    at_us: int | None = None
    after: bool = False

    @property
    def key(self) -> tuple[str, str, str, bool]:
        """What makes it the same place in two versions; a container that is closed counts anew."""
        return self.kind, self.hold_id, self.name, self.at_us is not None


def hold_places(snapshot: Snapshot) -> list[HoldPlace]:
    """Return where the holds in force apply: shipments, presses, containers, then what may be mounted next."""
    standing = holds(snapshot).to_dict("records")
    if not standing:
        return []
    lying = presses_of_coils(snapshot)
    found = [place for hold in standing for place in _of_hold(snapshot, hold, lying)]
    order = (SHIPPED, MOUNTED, BOXED, NEXT)
    return sorted(found, key=lambda b: (order.index(b.kind), not b.after, b.hold_id, b.presses, b.name))


def mounted(snapshot: Snapshot) -> list[HoldPlace]:
    """Return strip under hold that lies on a press now, and nothing else: quick enough to be asked all the time."""
    table = holds(snapshot)
    standing = table[table["scope"].isin(OF_STRIP)].to_dict("records")
    lying = presses_of_coils(snapshot) if standing else {}
    found = []
    for hold in standing if lying else []:
        scope, value = str(hold["scope"]), str(hold["value"])
        place = _place(hold, MOUNTED)
        names = _lying_of(snapshot, scope, value, lying)
        found += [replace(place, name=name, presses=(lying[name],)) for name in sorted(names)]
    return found


def _place(hold: Mapping[Any, object], kind: str) -> HoldPlace:
    held = f"{hold['scope']} {hold['value']}"
    return HoldPlace(kind, hold_id=str(hold["hold_id"]), held=held, reason=str(hold["reason"]))


def _lying_of(snapshot: Snapshot, scope: str, value: str, lying: Mapping[str, str]) -> set[str]:
    """Return what lies on presses of a coil, lot or heat; reels are only followed where one lies on a press."""
    coils = coils_of(snapshot, scope, value)
    if snapshot.lookup("reels", "reel_id", set(lying)):
        return followed(snapshot, coils)[1] & set(lying)
    return coils & set(lying)


def _of_hold(snapshot: Snapshot, hold: Mapping[object, object], lying: Mapping[str, str]) -> Iterator[HoldPlace]:
    scope, value = str(hold["scope"]), str(hold["value"])
    place = _place(hold, MOUNTED)
    span = tuple(None if pd.isna(hold[name]) else int(hold[name]) for name in ("from", "to"))  # type: ignore[call-overload]
    found = held_pieces(snapshot, scope, value, (span[0], span[1]))
    if scope in OF_STRIP:
        for name in sorted(_lying_of(snapshot, scope, value, lying)):
            yield replace(place, name=name, presses=(lying[name],))
        waiting = found.coils.loc[found.coils["state"] == STORE, "coil_id"]
        for name, press_id in _fitting(snapshot, set(waiting), lying):
            yield replace(place, kind=NEXT, name=name, presses=(press_id,))
    yield from _of_boxes(found.boxes.to_dict("records"), place, int(hold["placed_at"]))  # type: ignore[call-overload]


def _of_boxes(boxes: Iterable[Mapping[Hashable, Any]], place: HoldPlace, placed_us: int) -> Iterator[HoldPlace]:
    sent: dict[tuple[str, str, int], list[Mapping[Hashable, Any]]] = {}
    for row in boxes:
        if row["state"] == SENT:
            for shipment in row["shipments"]:
                sent.setdefault((shipment, str(row["customer"]), int(row["shipped_at"])), []).append(row)
        elif row["state"] == FLOOR:
            name, presses = str(row["container_id"]), (str(row["press_id"]),)
            closed_us = None if pd.isna(row["closed_at"]) else int(row["closed_at"])
            yield replace(place, kind=BOXED, name=name, presses=presses, pieces=_here([row]), at_us=closed_us)
    for (shipment, customer, sent_us), rows in sent.items():
        yield replace(
            place,
            kind=SHIPPED,
            name=shipment,
            presses=tuple(sorted({str(row["press_id"]) for row in rows})),
            pieces=_here(rows),
            customer=customer,
            at_us=sent_us,
            after=sent_us >= placed_us,
        )


def _here(rows: Iterable[Mapping[Hashable, Any]]) -> int | None:
    counts = [row["here"] for row in rows]
    return None if any(pd.isna(count) for count in counts) else sum(int(count) for count in counts)


def _fitting(snapshot: Snapshot, waiting: set[str], lying: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Yield coils in store with a press that runs strip of the same material, width and thickness."""
    rows = {row["coil_id"]: row for row in snapshot.lookup("coils", "coil_id", {*waiting, *lying})}
    runs: dict[tuple[object, ...], list[str]] = {}
    for name, press in lying.items():
        if name in rows:
            runs.setdefault(_size(rows[name]), []).append(press)
    for name in sorted(waiting & set(rows)):
        yield from ((name, press) for press in sorted(runs.get(_size(rows[name]), [])))


def _size(coil: Record) -> tuple[object, ...]:
    return tuple(coil[name] for name in _SIZE)


def sentence(place: HoldPlace) -> str:
    """Say what hold_places and what is asked of whoever reads it."""
    why = f"{place.held} is held, {place.hold_id}: {place.reason}"
    pieces = "an unknown number of pieces" if place.pieces is None else f"{place.pieces:,} pieces"
    if place.kind == MOUNTED:
        return f"{place.name} lies on press {', '.join(place.presses)} though {why}"
    if place.kind == NEXT:
        return f"{place.name} in store would fit press {', '.join(place.presses)}; do not mount it, {why}"
    if place.kind == BOXED:
        shut = "closed with" if place.at_us is not None else "filling with"
        return f"container {place.name} {shut} {pieces} under hold, {why}"
    to = f" to {place.customer}" if place.customer else ""
    when = "although held" if place.after else "before the hold"
    return f"shipment {place.name}{to} went out {when} with {pieces}, {why}"
