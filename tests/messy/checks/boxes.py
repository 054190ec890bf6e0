"""Shipped pieces by customer and week, pieces of each box by coil, against the account of every box."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd

from tests.messy.case import Case
from tests.messy.judge import Judge


def shipped(case: Case, judge: Judge) -> None:
    """Every piece that went to a customer is counted once, in the week it left."""
    table = judge.table("customer_week")
    got = table.groupby(["customer", "part_no", "week"])["shipped"].sum().to_dict()
    for key in sorted({*case.store.shipped, *(key for key, pieces in got.items() if pieces)}):
        if key not in case.store.left_open:
            wanted = case.store.shipped[key]
            judge.within(
                "customer_week",
                (*key, "shipped"),
                rule="one account a box: pieces that left in it",
                low=wanted,
                high=wanted,
                got=got.get(key, 0),
            )


def made(case: Case, judge: Judge) -> None:
    """Pieces made for each part and week, and no more good ones than that."""
    if not case.plant.dense:
        return
    frame = pd.concat(case.plant.pieces.values(), ignore_index=True)
    days = pd.to_datetime(frame["shift_date"]).dt.isocalendar()
    frame["week"] = [f"{year}-W{week:02d}" for year, week in zip(days["year"], days["week"], strict=True)]
    frame["customer"] = frame["part_no"].map({part.part_no: part.customer for part in case.plant.book.parts})
    truth = frame.groupby(["customer", "part_no", "week"])["pieces"].sum()
    got = judge.table("customer_week").groupby(["customer", "part_no", "week"])["made"].sum()
    for key, pieces in truth.items():
        judge.within(
            "customer_week", (*key, "made"), rule="8: made in the week", low=pieces, high=pieces, got=got.get(key, 0)
        )


def traced(case: Case, judge: Judge) -> None:
    """The pieces of a box by coil, with those of no known coil, add up to what is in it."""
    table = judge.table("trace")
    got = table.groupby("container_id")["pieces"].sum().to_dict()
    for name, box in case.store.boxes.items():
        if name in case.store.sent_twice:
            continue
        allowed = case.store.traced(box)
        if got.get(name, 0) not in allowed:
            judge.fault("trace", name, "figures.md: pieces over trace = quantity", sorted(allowed), got.get(name, 0))


CHECKS: tuple[Callable[[Case, Judge], None], ...] = (shipped, made, traced)
