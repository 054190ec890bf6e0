"""Everything a week's reports are made of, read once for all customers of one version of the ledger."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass

import pandas as pd

from monitor.figures.buyers import buyers
from monitor.figures.customer import customer_week as weekly
from monitor.figures.customer.weeks import days_of, week_of, weeks_until
from monitor.figures.genealogy import trace as genealogy
from monitor.figures.judgement import capability as gauging
from monitor.figures.scope import Scope
from monitor.ledger import Snapshot
from monitor.plant.book import Book, Record, plant_of
from monitor.plant.carries import newest_reading_us
from monitor.plant.records import records
from monitor.report.holds import OpenHold, open_holds
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

    @property
    def scope(self) -> Scope:
        """What the figures of the week are asked for."""
        return Scope(self.from_us, self.to_us, self.from_date, self.to_date)


@dataclass(frozen=True)
class PlantWeek:
    """A week of the whole plant; holds every customer's rows, so nothing that prints may see it.

    `traced` is what is inside the containers sent and filled, or was when they were sent: each piece once.
    """

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
    holds: list[OpenHold]
    measured: Mapping[Hashable, int]
    capability: pd.DataFrame
    characteristics: list[Record]
    actions: list[Record]
    set_aside: dict[str, int]
    read_us: int

    @property
    def read(self) -> bool:
        """Whether a counter reading of the week, or of a later one, has been loaded."""
        return self.read_us >= self.range.from_us

    @property
    def customers(self) -> list[str]:
        """Customers of a part of the plant book, of a delivery or of a complaint, in order."""
        booked = {str(row["customer"] or "") for row in self.parts.values()}
        return sorted((booked | set(self.totals["customer"]) | set(self.complaints["customer"])) - {""})


def gather(snapshot: Snapshot, week: str, customer: str | None = None, book: Book | None = None) -> PlantWeek:
    """Read a week such as 2026-W45, its containers traced for all customers or for one.

    `book` is the plant book of that version where it has been read already.  Raises RequestError for a week that does
    not exist.
    """
    book = book or Book.read(snapshot, plant_of(snapshot.plant_text()))
    plant = book.plant
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
    filled = _filled(snapshot, book, chosen)
    parts = weekly.parts_on(book, chosen.to_date - dt.timedelta(days=1))
    mine = None
    if customer is not None:
        mine = {part_no for part_no, row in parts.items() if row["customer"] == customer}
        mine |= set(trend.reset_index().query("customer == @customer")["part_no"])
        sent = sent[sent["customer"] == customer]
        filled = filled[filled["made_for"] == customer]
    wanted = sorted({*sent["container_id"], *filled["container_id"]})
    boxes = genealogy.traced(snapshot, snapshot.lookup("containers", "container_id", wanted), book).table
    measured = gauging.measured(snapshot, chosen.scope)
    if mine is not None:
        measured = measured[measured["part_no"].isin(mine)]
    return PlantWeek(
        version=snapshot.version,
        plant=plant,
        book=book,
        range=chosen,
        parts=parts,
        totals=weekly.week_rows(weekly.made(pieces, rejects, book), now, book),
        trend=trend.reset_index(),
        weeks=weeks,
        rejects=_made_for(weekly.finished(rejects, book), book),
        sent=sent,
        filled=filled,
        traced=genealogy.by_coil(boxes, "here"),
        complaints=_of_week(complaints, chosen),
        complained_boxes=_looked_at(snapshot, _of_week(complaints, chosen)["container_id"]),
        holds=open_holds(snapshot, chosen.to_us, book),
        measured=measured.groupby(["part_no", "characteristic"]).size().to_dict(),
        capability=gauging.capability_of(measured, snapshot, book, chosen.scope),
        characteristics=_key_ones(gauging.specifications(snapshot, book, chosen.scope)),
        actions=[row for row in snapshot.lookup("actions", "week", [week]) if row["done"]],
        set_aside=dict(sorted(Counter(snapshot.set_aside_rows()["table"]).items())),
        read_us=newest_reading_us(snapshot),
    )


def customers_of(snapshot: Snapshot) -> list[str]:
    """Return all customers there ever were, in order."""
    tables = (snapshot.rows(name).column("customer") for name in ("parts", "shipments", "complaints"))
    return sorted({name for column in tables for name in column.to_pylist() if name})


def range_of(book: Book, week: str) -> Range:
    """Return the plant days and instants of a week."""
    first, after = days_of(week, book.plant.week_start)
    return Range(week, first, after, book.calendar.day_start_us(first), book.calendar.day_start_us(after))


def last_week(book: Book, now_us: int) -> str:
    """Return the last week that was over at an instant."""
    day = book.calendar.plant_day(now_us) - dt.timedelta(days=7)
    return week_of(day, book.plant.week_start)


def _facts(snapshot: Snapshot, kind: str, book: Book, chosen: Range) -> pd.DataFrame:
    first, after = chosen.scope.dates(book.calendar)
    return chosen.scope.keep(snapshot.facts(kind, from_date=first, to_date=after))


def _made_for(facts: pd.DataFrame, book: Book) -> pd.DataFrame:
    """Add whom the pieces of each fact were made for on their day."""
    bought = buyers(book, facts["shift_date"], facts["part_no"])
    return facts.assign(made_for=pd.Series(bought, index=facts.index, dtype="str"))


def _of_week(complaints: pd.DataFrame, chosen: Range) -> pd.DataFrame:
    """Return the complaints about deliveries of the week and those reported in it."""
    within = [complaints[name].between(chosen.from_us, chosen.to_us - 1) for name in ("delivered_us", "reported_us")]
    return complaints[within[0] | within[1]].reset_index(drop=True)


def _filled(snapshot: Snapshot, book: Book, chosen: Range) -> pd.DataFrame:
    """Return the containers opened in the week, and whom the part was made for on that day."""
    rows = records(snapshot.rows("containers", None, chosen.from_us, chosen.to_us))
    days = [book.day_of(row["opened_at"]) for row in rows]
    bought = buyers(book, days, [row["part_no"] for row in rows])
    table = [(row["container_id"], row["part_no"], own) for row, own in zip(rows, bought, strict=True)]
    return pd.DataFrame(table, columns=["container_id", "part_no", "made_for"])


def _looked_at(snapshot: Snapshot, containers: Iterable[str]) -> pd.DataFrame:
    """Return what our own inspections found in some containers, and to whom each was sent (`sent_to`)."""
    wanted = sorted(set(containers) - {""})
    sent_to: dict[str, set[str]] = {name: set() for name in wanted}
    for row in snapshot.lookup("shipments", "container_id", wanted):
        sent_to[row["container_id"]] |= {row["customer"]} - {None}
    rows = snapshot.lookup("inspections", "container_id", wanted)
    names = ("container_id", "inspection_id", "cause", "inspected", "rejected")
    found = [[*(row[name] for name in names), sent_to[row["container_id"]]] for row in rows]
    return pd.DataFrame(found, columns=[*names, "sent_to"])


def _key_ones(specifications: dict[tuple[str, str], Record]) -> list[Record]:
    """Return the key characteristics in order of part and name."""
    return [row for _, row in sorted(specifications.items()) if row["key"]]
