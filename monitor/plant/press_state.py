"""The state of each press now: its newest reading, its die, its coil and its order."""

from __future__ import annotations

import datetime as dt

import pandas as pd

from monitor.ledger import Snapshot
from monitor.plant.book import Book, DayBook, Record, plant_of
from monitor.plant.carries import coil_on, last_carries, last_reading_us
from monitor.reckoning.press.carry import Carry

COLUMNS = (
    "press_id",
    "name",
    "last_reading_us",
    "standing_since_us",
    "die_id",
    "part_no",
    "coil_id",
    "lot",
    "rated_spm",
    "parts_per_stroke",
    "order_id",
    "order_quantity",
    "order_due_us",
)

_WHOLE = ("last_reading_us", "standing_since_us", "order_due_us", "order_quantity", "parts_per_stroke")


def press_states(snapshot: Snapshot, book: Book | None = None) -> pd.DataFrame:
    """Return a row for each press of the plant book, or that was read, with the columns of `COLUMNS`.

    `book` is the plant book of that version where it has been read already.  Times are Int64 [us since 1970 UTC]; rated
    speed is the lower of press and die [spm]; what is not known is missing or empty.
    """
    book = book or Book.read(snapshot, plant_of(snapshot.plant_text()))
    carries = last_carries(snapshot)
    coils = {name for carry in carries.values() if (name := coil_on(carry))}
    lots = {row["coil_id"]: row["lot"] or "" for row in snapshot.lookup("coils", "coil_id", coils)}
    orders = _orders(snapshot, carries)
    newest_us = max(map(last_reading_us, carries.values()), default=0)
    newest = book.page(book.day_of(newest_us) if newest_us else dt.date.max)
    names = sorted({*newest.presses, *carries})
    rows = [
        _row(press_id, carries.get(press_id, Carry()), page=newest, book=book, lots=lots, orders=orders)
        for press_id in names
    ]
    return pd.DataFrame(rows, columns=list(COLUMNS)).astype(dict.fromkeys(_WHOLE, "Int64"))


def _orders(snapshot: Snapshot, carries: dict[str, Carry]) -> dict[str, Record]:
    names = {carry.die.order_id for carry in carries.values() if carry.die and carry.die.order_id}
    return {row["order_id"]: row for row in snapshot.lookup("orders", "order_id", sorted(names))}


def _row(
    press_id: str, carry: Carry, page: DayBook, book: Book, lots: dict[str, str], orders: dict[str, Record]
) -> dict[str, object]:
    press = page.presses.get(press_id, {})
    die = page.dies.get(carry.die.die_id) if carry.die else None
    order = orders.get(carry.die.order_id, {}) if carry.die else {}
    coil_id = coil_on(carry)
    speeds = [speed for speed in (press.get("rated_spm"), die.rated_spm if die else None) if speed]
    return {
        "press_id": press_id,
        "name": press.get("name") or "",
        "last_reading_us": carry.last.time_us if carry.last else None,
        "standing_since_us": carry.idle.since_us if carry.idle and carry.idle.is_stop else None,
        "die_id": carry.die.die_id if carry.die else "",
        "part_no": (carry.die.part_no or (die.outs[0].part_no if die else "")) if carry.die else "",
        "coil_id": coil_id,
        "lot": lots.get(coil_id, ""),
        "rated_spm": min(speeds) if speeds else None,
        "parts_per_stroke": len(die.outs) if die else None,
        "order_id": carry.die.order_id if carry.die else "",
        "order_quantity": order.get("quantity"),
        "order_due_us": order.get("due_at"),
    }
