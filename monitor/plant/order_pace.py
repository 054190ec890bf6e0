"""How far the order on each press is: done, due, and when it will be made at the pace of the last hours."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from monitor.ledger import Snapshot
from monitor.plant.book import Record
from monitor.plant.carries import last_carries, last_reading_us
from monitor.reckoning.pieces.pace import hours_left, moment_after
from monitor.reckoning.press.carry import Carry
from shared.calendar import Calendar
from shared.durations import DAY_US, HOUR_US

#: Days back whose hours give the pace, and ahead in which an order is looked for its end; common practice, no source.
PACE_DAYS = 3
AHEAD_DAYS = 30
#: How long before the newest reading an order without a start may have begun [days]; common practice, no source.
_LONGEST_DAYS = 60

_DAY = dt.timedelta(days=1)
_STRETCH = ["press_id", "mounting_id", "out", "from_us", "stroke_from"]


@dataclass(frozen=True)
class OrderPace:
    """An order at the newest reading of its press; pieces done are good ones, moments in us, None = not known.

    `pace` and `wanted` are pieces in a planned hour: made lately, and needed to be done when due.
    """

    press_id: str
    order_id: str
    part_no: str
    quantity: int
    done: int
    due_us: int | None
    ends_us: int | None
    ends_low_us: int | None
    ends_high_us: int | None
    pace: float | None
    wanted: float | None

    @property
    def late(self) -> bool:
        """Whether the order will be late even if all goes well."""
        return self.due_us is not None and self.ends_low_us is not None and self.ends_low_us > self.due_us


def order_paces(snapshot: Snapshot, calendar: Calendar) -> dict[str, OrderPace]:
    """Return, by press, how far its order is; presses without one, or whose good pieces are not known, are left out."""
    running = {
        press_id: carry
        for press_id, carry in last_carries(snapshot).items()
        if carry.die and carry.die.order_id and carry.last
    }
    names = {carry.die.order_id for carry in running.values() if carry.die}
    orders = {row["order_id"]: row for row in snapshot.lookup("orders", "order_id", sorted(names))}
    if not orders:
        return {}
    made = _made(snapshot, orders, calendar, max(map(last_reading_us, running.values())))
    found = {}
    for press_id, carry in running.items():
        order = orders.get(carry.die.order_id) if carry.die else None
        pace = (
            None
            if order is None
            else _pace(press_id, carry, order=order, made=made, calendar=calendar, snapshot=snapshot)
        )
        if pace is not None:
            found[press_id] = pace
    return found


def _made(snapshot: Snapshot, orders: Mapping[str, Record], calendar: Calendar, now_us: int) -> pd.DataFrame:
    """Return good pieces of the orders by order, part, press and clock hour, with rejects taken off."""
    starts = [row["start_at"] or now_us - _LONGEST_DAYS * DAY_US for row in orders.values()]
    since = calendar.plant_day(min(starts)) - _DAY
    pieces = snapshot.facts("pieces", from_date=since, where=("order_id", sorted(orders)))
    pieces = pieces[pieces["setup"] == 0]
    rejects = snapshot.facts("rejects", from_date=since, where=("mounting_id", sorted(set(pieces["mounting_id"]))))
    bad = rejects.groupby(_STRETCH)[["rejected", "reworked"]].sum().sum(axis=1).rename("bad")
    rows = pieces.merge(bad, how="left", left_on=_STRETCH, right_index=True)
    rows["good"] = rows["pieces"] - rows["bad"].fillna(0).astype("int64")
    return rows.groupby(["order_id", "part_no", "press_id", "hour_us"])[["good"]].sum().reset_index()


def _pace(
    press_id: str, carry: Carry, order: Record, made: pd.DataFrame, calendar: Calendar, snapshot: Snapshot
) -> OrderPace | None:
    now_us = last_reading_us(carry)
    mine = made[(made["order_id"] == order["order_id"]) & (made["part_no"] == order["part_no"])]
    done = int(mine["good"].sum())
    if done < 0:
        return None  # More rejected than made: `contradictions` says where.
    left = int(order["quantity"]) - done
    hours = _hours(
        snapshot,
        press_id,
        mine=mine[mine["press_id"] == press_id],
        order_id=order["order_id"],
        calendar=calendar,
        now_us=now_us,
    )
    told = hours_left(left, hours["good"], hours["planned_h"])
    open_us = _open(calendar, press_id, now_us)
    ends_us, low_us, high_us = (
        moment_after(after, now_us, open_us) if told else None
        for after in ((told.hours, told.low, told.high) if told else (0.0, 0.0, 0.0))
    )
    total_h = float(hours["planned_h"].sum())
    return OrderPace(
        press_id,
        order["order_id"],
        part_no=order["part_no"],
        quantity=int(order["quantity"]),
        done=done,
        due_us=order["due_at"],
        ends_us=ends_us,
        ends_low_us=low_us,
        ends_high_us=high_us,
        pace=float(hours["good"].sum()) / total_h if told else None,
        wanted=_wanted(left, order["due_at"], now_us, open_us),
    )


def _hours(
    snapshot: Snapshot, press_id: str, mine: pd.DataFrame, order_id: str, calendar: Calendar, now_us: int
) -> pd.DataFrame:
    """Return good pieces and planned hours of each clock hour in which the order ran lately."""
    since = calendar.plant_day(now_us) - PACE_DAYS * _DAY
    time = snapshot.facts("time", from_date=since, press_id=press_id)
    time = time[(time["order_id"] == order_id) & (time["setup"] == 0)]
    planned = time.groupby("hour_us")["planned_us"].sum() / HOUR_US
    good = mine.groupby("hour_us")["good"].sum()
    return pd.DataFrame({"planned_h": planned, "good": good.reindex(planned.index).fillna(0)})


def _open(calendar: Calendar, press_id: str, now_us: int) -> list[tuple[int, int]]:
    """Return the stretches of planned time ahead [us]: shifts without their breaks and closed days."""
    stretches = []
    for window in calendar.shifts(press_id, now_us, now_us + AHEAD_DAYS * DAY_US):
        edges = [window.start_us, *(us for pause in window.breaks for us in pause), window.end_us]
        if not window.closed:
            stretches += list(zip(edges[::2], edges[1::2], strict=True))
    return stretches


def _wanted(left: int, due_us: int | None, now_us: int, open_us: list[tuple[int, int]]) -> float | None:
    if due_us is None or left <= 0:
        return None
    hours = sum(max(0, min(end, due_us) - max(begin, now_us)) for begin, end in open_us) / HOUR_US
    return left / hours if hours > 0 else None
