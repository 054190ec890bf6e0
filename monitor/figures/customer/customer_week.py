"""The `customer_week` table: what was made, sent and complained about, by customer, part and week.

Parts per million are pieces of complaints that were not withdrawn over pieces delivered, in the week of the delivery;
internal scrap never counts.  A complaint that names no delivery counts in the week it was reported.  One that was
closed without being accepted was withdrawn.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from monitor.figures.buyers import buyers
from monitor.figures.columns import columns
from monitor.figures.customer.weeks import days_of, week_of
from monitor.figures.genealogy.box_accounts import shipped_of
from monitor.figures.output.totals import totals
from monitor.figures.question import Question
from monitor.figures.routes import earlier_steps
from monitor.ledger import Snapshot
from monitor.plant.book import Book, Record
from monitor.plant.records import records
from shared.durations import FOREVER_US
from shared.facts import FACTS
from shared.fields import count, number, text
from shared.figures import Figure

FIGURE = Figure(
    "customer_week",
    row_per="customer, part, week",
    columns=columns(
        "customer part_no",
        text("week", "ISO week, such as 2026-W45"),
        count("made", "pieces", "pieces that left the die"),
        "good shipped",
        count("complaints", "", "complaints about deliveries of the week, or reported in it where they name none"),
        count(
            "complaint_pieces", "pieces", "pieces in these complaints; one closed without being accepted was withdrawn"
        ),
        number("ppm_ours", "ppm", "pieces of accepted complaints per million shipped", 0, 1e6),
        number("ppm_theirs", "ppm", "pieces of all complaints not withdrawn per million shipped", 0, 1e6),
        count("disputed", "pieces", "pieces in these complaints that are refused or still open, and not withdrawn"),
    ),
)

_DAY = dt.timedelta(days=1)
KEY = ["customer", "part_no", "week"]
ACCEPTED, DISPUTED, WITHDRAWN = "accepted", "disputed", "withdrawn"
CLOSING = ["made", "setup_pieces", "rejected", "reworked", "good"]

_SENT = ["shipment_id", "container_id", "shipped_us", "customer", "part_no", "press_id", "pieces"]
_COMPLAINED = [
    "complaint_id", "reported_us", "delivered_us", "customer", "part_no", "container_id", "shipment_id", "pieces",
    "cause", "standing", "closed_us",
]  # fmt: skip


def customer_week(question: Question) -> pd.DataFrame:
    """Return the `customer_week` table for the range and filters asked; deliveries of a press or die are not known."""
    asked, book = question.scope, question.book
    rows = made(question.facts("pieces"), question.facts("rejects"), book)
    until = dt.date.max if asked.to_us is None else question.last_day
    if asked.press or asked.die:
        return week_rows(rows, None, book, until)
    sent = deliveries(question.snapshot, book, asked.from_us, asked.to_us)
    told = complaints(question.snapshot)
    told = told[told["delivered_us"].between(asked.from_us or -FOREVER_US, (asked.to_us or FOREVER_US) - 1)]
    return week_rows(rows, delivered(asked.keep_part(sent), asked.keep_part(told), book), book, until)


def parts_on(book: Book, date: dt.date) -> dict[str, Record]:
    """Return the parts as the plant book has them on a plant day."""
    return {row["part_no"]: row for row in book.rows_on("parts", date)}


def deliveries(snapshot: Snapshot, book: Book, from_us: int | None, to_us: int | None) -> pd.DataFrame:
    """Return what was shipped in [from, to) [us]: a row a shipment and container.

    Pieces are those inside the container then, each counted once; missing where nobody knows how many there were.
    """
    sent = records(snapshot.rows("shipments", None, from_us, to_us))
    boxes = {row["container_id"]: row for row in snapshot.lookup("containers", "container_id", _of(sent))}
    shipped = shipped_of(snapshot, boxes.values(), book)
    rows = []
    for row in sent:
        box = boxes[row["container_id"]]
        customer = row["customer"] or buyers(book, [book.day_of(row["shipped_at"])], [box["part_no"]])[0]
        place = (row["shipment_id"], row["container_id"], row["shipped_at"])
        pieces = shipped[row["shipment_id"], row["container_id"]]
        rows.append((*place, customer, box["part_no"], box["press_id"], pieces))
    return pd.DataFrame(rows, columns=_SENT).astype({"pieces": "Int64", "shipped_us": "int64"})


def _of(rows: Iterable[Mapping[str, Any]]) -> set[str]:
    return {row["container_id"] for row in rows}


def complaints(snapshot: Snapshot) -> pd.DataFrame:
    """Return every complaint with when its pieces were delivered [us] and how it stands.

    `standing`: accepted; withdrawn (closed without being accepted); disputed (refused or still open).
    """
    rows = records(snapshot.rows("complaints"))
    names = {column: {row[column] or "" for row in rows} - {""} for column in ("shipment_id", "container_id")}
    sent = [row for column, some in names.items() for row in snapshot.lookup("shipments", column, some)]
    told = [(*_told(row, sent), row["closed_at"]) for row in rows]
    table = pd.DataFrame(told, columns=_COMPLAINED)
    counted = {"reported_us": "int64", "delivered_us": "int64", "pieces": "int64", "closed_us": "Int64"}
    return table.astype(counted)


def _told(row: Record, sent: list[dict[str, Any]]) -> tuple[Any, ...]:
    named = {name: row[name] for name in ("shipment_id", "container_id") if row[name]}
    times = [s["shipped_at"] for s in sent if all(s[name] == value for name, value in named.items())] if named else []
    before = [us for us in times if us <= row["reported_at"]] or times
    delivered = max(before, default=row["reported_at"])
    what = (row["customer"], row["part_no"], row["container_id"] or "", row["shipment_id"] or "", row["pieces"])
    return (row["complaint_id"], row["reported_at"], delivered, *what, row["cause"] or "", _standing(row))


def _standing(row: Record) -> str:
    if row["accepted"] == "yes":
        return ACCEPTED
    return WITHDRAWN if row["accepted"] == "no" and row["closed_at"] is not None else DISPUTED


def delivered(sent: pd.DataFrame, complained: pd.DataFrame, book: Book) -> pd.DataFrame:
    """Sum deliveries and the complaints about them by customer, part and week, with both parts per million.

    `shipped` is missing where nobody knows how much a container held; ppm where nothing is known to have been shipped.
    """
    sent = sent.assign(week=_weeks(sent["shipped_us"], book))
    told = complained.assign(week=_weeks(complained["delivered_us"], book))
    for name, standing in (("withdrawn", WITHDRAWN), ("ours", ACCEPTED), ("disputed", DISPUTED)):
        told[name] = told["pieces"].where(told["standing"] == standing, 0)
    sums = told.groupby(KEY).agg(
        complaints=("pieces", "size"),
        all=("pieces", "sum"),
        withdrawn=("withdrawn", "sum"),
        ours=("ours", "sum"),
        disputed=("disputed", "sum"),
    )
    shipped = sent.groupby(KEY)["pieces"].agg(lambda pieces: pieces.sum(skipna=False)).rename("shipped")
    table = pd.concat([shipped.astype("Int64"), sums.astype("Int64")], axis=1)
    known = table.index.isin(shipped.index)
    table["shipped"] = table["shipped"].where(known, 0)
    table = table.fillna(dict.fromkeys(sums.columns, 0))
    table["complaint_pieces"] = table["all"] - table["withdrawn"]
    table["ppm_theirs"] = _per_million(table["complaint_pieces"], table["shipped"])
    table["ppm_ours"] = _per_million(table["ours"], table["shipped"])
    return table.rename(columns={"ours": "accepted_pieces"}).drop(columns=["all", "withdrawn"])


def _per_million(pieces: pd.Series, shipped: pd.Series) -> pd.Series:
    part, whole = (column.astype("float64") for column in (pieces, shipped))
    return 1e6 * part / whole.where(whole > 0)


def _weeks(times: pd.Series, book: Book) -> list[str]:
    days = book.calendar.plant_days(times.to_numpy(np.int64)).tolist()
    weeks = {day: week_of(day, book.plant.week_start) for day in set(days)}
    return [weeks[day] for day in days]


def finished(facts: pd.DataFrame, book: Book) -> pd.DataFrame:
    """Return the facts of finished pieces: where a part goes through several dies, those of the last one.

    The route is that of the day on which the pieces were made.
    """
    before = {str(day): earlier_steps(book, str(day)) for day in facts["shift_date"].unique()}
    if not any(before.values()):
        return facts
    keys = zip(facts["shift_date"], facts["part_no"], facts["die_id"], strict=True)
    return facts[np.array([(part, die) not in before[day] for day, part, die in keys], dtype=bool)]


def made(pieces: pd.DataFrame, rejects: pd.DataFrame, book: Book) -> pd.DataFrame:
    """Sum facts by the customer the part was made for on the day, part and week.

    Columns `CLOSING`; made = setup_pieces + rejected + reworked + good.
    """
    pieces, rejects = finished(pieces, book), finished(rejects, book)
    frames = [_named(frame, book) for frame in (_none("time"), _none("strokes"), pieces, rejects)]
    table = totals(frames[0], frames[1], frames[2], frames[3], KEY)
    return table.rename(columns={"pieces": "made"}).set_index(KEY)[CLOSING].astype("Int64")


def _named(facts: pd.DataFrame, book: Book) -> pd.DataFrame:
    """Add the customer and the week of each fact."""
    customers = buyers(book, facts["shift_date"], facts["part_no"])
    return facts.assign(customer=pd.Series(customers, index=facts.index, dtype="str"), week=_fact_weeks(facts, book))


def _fact_weeks(facts: pd.DataFrame, book: Book) -> pd.Series:
    weeks = {day: week_of(dt.date.fromisoformat(day), book.plant.week_start) for day in facts["shift_date"].unique()}
    return facts["shift_date"].map(weeks).astype("str")


def _none(kind: str) -> pd.DataFrame:
    columns = FACTS[kind].names
    return pd.DataFrame({name: pd.Series(dtype="str" if name in _TEXTS else "int64") for name in columns})


_TEXTS = frozenset({"press_id", "day", "shift_date", "shift", "die_id", "part_no", "order_id", "mounting_id"})


def _buyers_in(book: Book, part_no: str, week: str, until: dt.date) -> set[str]:
    """Return whom a part is made for on any day of a week, up to the last day asked for."""
    first, after = days_of(week, book.plant.week_start)
    days = [first + n * _DAY for n in range((after - first).days) if n == 0 or first + n * _DAY <= until]
    return set(buyers(book, days, [part_no] * len(days)))


def week_rows(
    made_rows: pd.DataFrame, delivered_rows: pd.DataFrame | None, book: Book, until: dt.date = dt.date.max
) -> pd.DataFrame:
    """Join what was made to what was delivered; one without the other is none of it.

    `until` is the last day of the range.  What was made is told only to the customers the part was made for in the
    week: for another one it is missing.  Without
    `delivered_rows` (a press or die was asked for) deliveries are not known.
    """
    table = made_rows if delivered_rows is None else made_rows.join(delivered_rows, how="outer")
    table = table.reset_index()
    named = zip(table["part_no"], table["customer"], table["week"], strict=True)
    own = np.array([customer in _buyers_in(book, part_no, week, until) for part_no, customer, week in named], bool)
    nothing = own & table["made"].isna()
    for name in CLOSING:
        table[name] = table[name].mask(nothing, 0)
    if delivered_rows is not None:
        lone = ~pd.MultiIndex.from_frame(table[KEY]).isin(delivered_rows.index)
        for name in ("shipped", "complaints", "complaint_pieces", "disputed", "accepted_pieces"):
            table[name] = table[name].mask(lone, 0)
    return table.sort_values(KEY, ignore_index=True)
