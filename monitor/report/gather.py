"""Everything a week's reports are made of, read once for all customers of one version of the ledger."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd
import pyarrow as pa

from monitor.book import Book, Record, plant_of
from monitor.figures import customer as weekly
from monitor.figures import trace as genealogy
from monitor.figures.scope import Scope
from monitor.figures.weeks import days_of, week_of, weeks_until
from monitor.ledger import Snapshot
from monitor.records import records
from monitor.report.held import Held, open_holds
from shared.plant import Plant

#: Weeks of the trend, the last of them the week of the report.
TREND_WEEKS = 13


@dataclass(frozen=True)
class Range:
    """A week of the plant: plant days [from, to), and the instants they begin at [us since 1970 UTC]."""

    week: str
    from_date: dt.date
    to_date: dt.date
    from_us: int
    to_us: int


@dataclass(frozen=True)
class PlantWeek:
    """A week of the whole plant; holds every customer's rows, so nothing that prints may see it."""

    version: int
    plant: Plant
    book: Book
    range: Range
    parts: dict[str, Record]
    totals: pd.DataFrame
    trend: pd.DataFrame
    weeks: list[str]
    rejects: pd.DataFrame
    sent: pd.DataFrame
    filled: pd.DataFrame
    traced: pd.DataFrame
    complaints: pd.DataFrame
    complained_boxes: pd.DataFrame
    holds: list[Held]
    measured: pd.DataFrame
    characteristics: list[Record]
    set_aside: dict[str, int]

    @property
    def customers(self) -> list[str]:
        """Customers of a part of the plant book, of a delivery or of a complaint, in order."""
        booked = {str(row["customer"] or "") for row in self.parts.values()}
        return sorted((booked | set(self.totals["customer"]) | set(self.complaints["customer"])) - {""})


def gather(snapshot: Snapshot, week: str, customer: str | None = None) -> PlantWeek:
    """Read a week such as 2026-W45, its containers traced for all customers or for one.

    Raises RequestError for a week that does not exist.
    """
    plant = plant_of(snapshot.plant_text())
    book = Book.read(snapshot, plant)
    chosen = range_of(book, week)
    weeks = weeks_until(week, TREND_WEEKS, plant.week_start)
    first_us = range_of(book, weeks[0]).from_us
    complaints = weekly.complaints(snapshot)
    sent = weekly.deliveries(snapshot, book, first_us, chosen.to_us)
    told = complaints[complaints["delivered_us"].between(first_us, chosen.to_us - 1)]
    trend = weekly.delivered(sent, told, book)
    pieces, rejects = (_facts(snapshot, kind, book, chosen) for kind in ("pieces", "rejects"))
    now = trend[trend.index.get_level_values("week") == week]
    sent = sent[sent["shipped_us"] >= chosen.from_us].reset_index(drop=True)
    filled = _filled(snapshot, chosen)
    parts = weekly.parts_on(book, chosen.to_date - dt.timedelta(days=1))
    mine = None
    if customer is not None:
        mine = {part_no for part_no, row in parts.items() if row["customer"] == customer}
        mine |= set(trend.reset_index().query("customer == @customer")["part_no"])
        sent = sent[sent["customer"] == customer]
        filled = filled[[parts.get(name, {}).get("customer") == customer for name in filled["part_no"]]]
    return PlantWeek(
        version=snapshot.version,
        plant=plant,
        book=book,
        range=chosen,
        parts=parts,
        totals=weekly.customer_week(weekly.made(pieces, rejects, book), now, book),
        trend=trend.reset_index(),
        weeks=weeks,
        rejects=weekly.finished(rejects, book),
        sent=sent,
        filled=filled,
        traced=_traced(snapshot, {*sent["container_id"], *filled["container_id"]}, book),
        complaints=_of_week(complaints, chosen),
        complained_boxes=_looked_at(snapshot, _of_week(complaints, chosen)["container_id"]),
        holds=open_holds(snapshot, chosen.to_us, mine),
        measured=_measured(snapshot, chosen),
        characteristics=_characteristics(snapshot, chosen),
        set_aside=dict(sorted(Counter(snapshot.set_aside_rows()["table"]).items())),
    )


def range_of(book: Book, week: str) -> Range:
    """Return the plant days and instants of a week."""
    first, after = days_of(week, book.plant.week_start)
    return Range(week, first, after, book.calendar.day_start_us(first), book.calendar.day_start_us(after))


def last_week(book: Book, now_us: int) -> str:
    """Return the last week that was over at an instant."""
    day = book.calendar.plant_day(now_us) - dt.timedelta(days=7)
    return week_of(day, book.plant.week_start)


def _facts(snapshot: Snapshot, kind: str, book: Book, chosen: Range) -> pd.DataFrame:
    scope = Scope(chosen.from_us, chosen.to_us, chosen.from_date, chosen.to_date)
    first, after = scope.dates(book.calendar)
    return scope.keep(snapshot.facts(kind, from_date=first, to_date=after))


def _of_week(complaints: pd.DataFrame, chosen: Range) -> pd.DataFrame:
    """Return the complaints about deliveries of the week and those reported in it."""
    within = [complaints[name].between(chosen.from_us, chosen.to_us - 1) for name in ("delivered_us", "reported_us")]
    return complaints[within[0] | within[1]].reset_index(drop=True)


def _filled(snapshot: Snapshot, chosen: Range) -> pd.DataFrame:
    rows = records(snapshot.rows("containers", None, chosen.from_us, chosen.to_us))
    names = ("container_id", "part_no", "opened_at")
    return pd.DataFrame([[row[name] for name in names] for row in rows], columns=names)


def _traced(snapshot: Snapshot, names: Iterable[str], book: Book) -> pd.DataFrame:
    rows = snapshot.lookup("containers", "container_id", sorted(set(names)))
    return genealogy.trace(snapshot, book, rows)


def _looked_at(snapshot: Snapshot, containers: Iterable[str]) -> pd.DataFrame:
    """Return what our own inspections found in some containers: container_id, cause, inspected, rejected."""
    rows = snapshot.lookup("inspections", "container_id", sorted(set(containers) - {""}))
    names = ("container_id", "inspection_id", "cause", "inspected", "rejected")
    return pd.DataFrame([[row[name] for name in names] for row in rows], columns=names)


def _measured(snapshot: Snapshot, chosen: Range) -> pd.DataFrame:
    rows = snapshot.rows("measurements", None, chosen.from_us, chosen.to_us)
    wanted = ["part_no", "characteristic", "press_id", "out", "time", "piece", "value"]
    rows = rows.select(wanted).set_column(4, "time", rows.column("time").cast(pa.int64()))
    table: pd.DataFrame = rows.to_pandas()
    table["out"] = table["out"].astype("float64").fillna(0).astype(np.int64)
    return table


def _characteristics(snapshot: Snapshot, chosen: Range) -> list[Record]:
    """Return the key characteristics as the plant book had them at the end of the week."""
    best: dict[tuple[str, str], Record] = {}
    for row in sorted(snapshot.rows("characteristics").to_pylist(), key=lambda r: str(r.get("valid_from") or "")):
        if str(row.get("valid_from") or "") <= chosen.to_date.isoformat():
            best[row["part_no"], row["characteristic"]] = row
    return [row for row in best.values() if row["key"]]
