"""What one customer may see of a week: a frozen view with that customer's rows and nothing else.

Everything printed or written is made from a view.  It has no place for another customer's rows, for time, efficiency or
cost, for suppliers, free text or people, so none of these can reach a paper.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import Any

import numpy as np
import pandas as pd

from monitor.export import as_csv
from monitor.figures.customer.weeks import week_of
from monitor.reckoning.statistics.intervals import clopper_pearson, wilson
from monitor.report.control import charts
from monitor.report.holds import HeldBox, OpenHold
from monitor.report.tables import LISTS, TABLES
from monitor.report.week import PlantWeek
from shared.identifiers import joined

#: Input tables that the figures of a report come from; how much of others was set aside is the plant's own business.
BEARING = frozenset(
    (
        "causes", "characteristics", "coil_changes", "coils", "complaints", "containers", "die_changes", "dies",
        "dispositions", "holds", "inspections", "measurements", "outs", "parts", "presses", "reels", "repacks",
        "routes", "shipments", "stations", "strokes",
    )
)  # fmt: skip


@dataclass(frozen=True)
class CustomerWeek:
    """One customer's week: tables by name with the columns of `tables.TABLES`, and what identifies the paper.

    `from_` and `to` are ISO 8601 with the plant's offset; `set_aside` counts rows of the whole plant by input table;
    `read` tells whether counter readings reach into the week.
    """

    customer: str
    plant: str
    timezone: str
    week: str
    from_: str
    to: str
    from_date: dt.date
    to_date: dt.date
    version: int
    tables: Mapping[str, pd.DataFrame]
    set_aside: Mapping[str, int]
    weeks: tuple[str, ...]
    read: bool

    @cached_property
    def total(self) -> Mapping[Hashable, Any]:
        """All parts together: counts, ppm and its interval; what is not known of one part is not known of all."""
        counts = ("made", "good", "shipped", "complaint_pieces", "accepted_pieces", "disputed")
        table = pd.DataFrame({name: [self.tables["parts"][name].sum(skipna=False)] for name in counts})
        shipped = table["shipped"].astype("float64")
        for who, pieces in (("theirs", "complaint_pieces"), ("ours", "accepted_pieces")):
            table[f"ppm_{who}"] = 1e6 * table[pieces].astype("float64") / shipped.where(shipped > 0)
            table[f"{who}_low"], table[f"{who}_high"] = _per_million(table[pieces], table["shipped"])
        return table.to_dict("records")[0]

    @cached_property
    def csv(self) -> Mapping[str, str]:
        """The tables as CSV."""
        return {name: as_csv(table) for name, table in self.tables.items()}

    @cached_property
    def figures_hash(self) -> str:
        """SHA-256 of all tables as CSV, in hex: two papers with one hash hold the same figures."""
        digest = hashlib.sha256()
        for name, text in self.csv.items():
            digest.update(f"{name}\n{text}".encode())
        return digest.hexdigest()


def view_of(week: PlantWeek, customer: str) -> CustomerWeek:
    """Return one customer's view of a plant's week."""
    boxes = _boxes(week, customer)
    tables = {
        "parts": _parts(week, customer),
        "trend": _trend(week, customer),
        "rejects": _rejects(week, customer),
        "actions": _actions(week, customer),
        "charts": _charts(week, customer),
        "capability": _capability(week, customer),
        "lots": _lots(boxes),
        "containers": _containers(week, boxes),
        "complaints": _complaints(week, customer),
        "holds": _holds(week, customer),
    }
    from_, to = week.book.calendar.local_iso([week.range.from_us, week.range.to_us])
    return CustomerWeek(
        customer=customer,
        plant=week.plant.report.name or week.plant.name,
        timezone=week.plant.timezone,
        week=week.range.week,
        from_=from_,
        to=to,
        from_date=week.range.from_date,
        to_date=week.range.to_date,
        version=week.version,
        tables=MappingProxyType({name: _typed(name, table) for name, table in tables.items()}),
        set_aside=MappingProxyType({name: count for name, count in week.set_aside.items() if name in BEARING}),
        weeks=tuple(week.weeks),
        read=week.read,
    )


def _typed(name: str, table: pd.DataFrame) -> pd.DataFrame:
    columns = TABLES[name].columns
    table = table.reindex(columns=list(columns)).reset_index(drop=True)
    # A table without rows has no tuples to tell its type by.
    lists = LISTS.get(name, frozenset()) if len(table) else frozenset()
    return table.astype({column: kind.dtype for column, kind in columns.items() if column not in lists})


def _own(week: PlantWeek, customer: str) -> set[str]:
    """Return the parts made for a customer."""
    return {part_no for part_no, row in week.parts.items() if row["customer"] == customer}


def _parts(week: PlantWeek, customer: str) -> pd.DataFrame:
    table = week.totals[week.totals["customer"] == customer].copy()
    for column in ("name", "revision"):
        table[column] = [week.parts.get(part_no, {}).get(column) or "" for part_no in table["part_no"]]
    for name, pieces in (("theirs", "complaint_pieces"), ("ours", "accepted_pieces")):
        table[f"{name}_low"], table[f"{name}_high"] = _per_million(table[pieces], table["shipped"])
    return table


def _per_million(pieces: pd.Series, shipped: pd.Series) -> tuple[np.ndarray, np.ndarray]:
    """Return the exact interval of parts per million; not known where more was complained about than shipped."""
    part, whole = (column.astype("float64").to_numpy() for column in (pieces, shipped))
    known = (whole > 0) & (part <= whole)
    low, high = clopper_pearson(np.where(known, part, 0), np.where(known, whole, 1))
    return np.where(known, 1e6 * low, np.nan), np.where(known, 1e6 * high, np.nan)


def _trend(week: PlantWeek, customer: str) -> pd.DataFrame:
    """Return a row a part and week, from the first week of the trend in which anything was shipped."""
    table = week.trend[week.trend["customer"] == customer].copy()
    table["theirs_low"], table["theirs_high"] = _per_million(table["complaint_pieces"], table["shipped"])
    return table.sort_values(["part_no", "week"])


def _rejects(week: PlantWeek, customer: str) -> pd.DataFrame:
    """Return what our own inspections found, by part, kind of inspection and cause; a clean one has no cause."""
    facts = week.rejects[week.rejects["made_for"] == customer]
    facts = facts.assign(in_setup=facts["rejected"] * facts["setup"])
    key = ["part_no", "kind"]
    looked = facts.groupby(key, as_index=False)["inspected"].sum()
    found = facts[(facts["rejected"] > 0) | (facts["reworked"] > 0)]
    found = found.groupby([*key, "cause"], as_index=False)[["rejected", "in_setup", "reworked"]].sum()
    table = looked.merge(found, on=key, how="left")
    table["cause"] = table["cause"].fillna("")
    table["cause_name"] = table["cause"].map(_names(week)).fillna("")
    table = table.fillna({"rejected": 0, "in_setup": 0, "reworked": 0})
    known = (table["inspected"] > 0) & (table["rejected"] <= table["inspected"])
    rejected, inspected = table["rejected"].where(known, 0), table["inspected"].where(known, 1)
    low, high = wilson(rejected, inspected)
    for name, values in (("rate", rejected / inspected), ("rate_low", low), ("rate_high", high)):
        table[name] = pd.Series(values, index=table.index).where(known)
    order = ["part_no", "rejected", "kind", "cause"]
    return pd.DataFrame(table.sort_values(order, ascending=[True, False, True, True]))


def _names(week: PlantWeek) -> dict[str, str]:
    causes = week.book.rows_on("causes", week.range.to_date - dt.timedelta(days=1))
    return {row["cause"]: row["name"] or "" for row in causes}


def _charts(week: PlantWeek, customer: str) -> pd.DataFrame:
    facts = week.rejects[week.rejects["made_for"] == customer]
    table = charts(facts, week.range.from_us)
    table["start_at"] = week.book.calendar.local_iso(table["start_us"])
    table["cause_name"] = table["cause"].map(_names(week)).fillna("")
    return table


_SPECIFIED = ("part_no", "characteristic", "unit", "lower", "upper")


def _capability(week: PlantWeek, customer: str) -> pd.DataFrame:
    own = _own(week, customer)
    told = [row for row in week.characteristics if row["part_no"] in own]
    table = pd.DataFrame([{name: row[name] for name in _SPECIFIED} for row in told], columns=list(_SPECIFIED))
    rows = table.merge(week.capability, on=["part_no", "characteristic"], how="left")
    # One value has no spread, so nothing but its count can be said of it.
    seen = [week.measured.get(key, 0) for key in zip(rows["part_no"], rows["characteristic"], strict=True)]
    rows["n"] = rows["n"].where(rows["n"].notna(), pd.Series(seen, rows.index, "Int64"))
    return rows.assign(subgroups=rows["subgroups"].where(rows["subgroups"].notna(), (rows["n"] > 0).astype("int64")))


def _actions(week: PlantWeek, customer: str) -> pd.DataFrame:
    """Return what was done about the causes, in the words written for this customer."""
    mine = [row for row in week.actions if row["customer"] == customer]
    table = pd.DataFrame(mine, columns=["part_no", "cause", "done"])
    table["cause_name"] = table["cause"].map(_names(week)).fillna("")
    return table.sort_values(["part_no", "cause"])


def _boxes(week: PlantWeek, customer: str) -> pd.DataFrame:
    """Return the traced containers of a customer, as shipped to it, or filled for it and not yet shipped to another."""
    sent = week.sent[(week.sent["customer"] == customer) & (week.sent["pieces"] != 0)]
    filled = week.filled[week.filled["made_for"] == customer]
    traced = week.traced.rename(columns={"here": "pieces"})
    mine = traced["container_id"].isin(sent["container_id"])
    here = traced["container_id"].isin(filled["container_id"]) & traced["customer"].isin(["", customer])
    rows = traced[mine | here].assign(filled=here, sent=mine)
    stated = sent.groupby("container_id").agg({"shipment_id": set, "shipped_us": "max"}).to_dict()
    ids = {box: tuple(sorted(some)) for box, some in stated["shipment_id"].items()}
    return rows.assign(
        shipments=pd.Series([ids.get(name, ()) for name in rows["container_id"]], rows.index, dtype=object),
        shipped_us=rows["container_id"].map(stated["shipped_us"]),
    )


def _lots(boxes: pd.DataFrame) -> pd.DataFrame:
    pieces = boxes["pieces"]
    rows = boxes.assign(filled_pieces=pieces.where(boxes["filled"], 0), shipped_pieces=pieces.where(boxes["sent"], 0))
    key = ["part_no", "lot", "heat"]
    return rows.groupby(key, as_index=False).agg(
        coils=("coil_id", lambda ids: len(set(ids) - {""})),
        containers=("container_id", "nunique"),
        filled_pieces=("filled_pieces", "sum"),
        shipped_pieces=("shipped_pieces", "sum"),
    )


def _containers(week: PlantWeek, boxes: pd.DataFrame) -> pd.DataFrame:
    rows = boxes[boxes["sent"]].copy()
    rows["shipped_at"] = week.book.calendar.local_iso(rows["shipped_us"].astype("int64"))
    rows["shipment_id"] = rows["shipments"].map(joined)
    rows = rows.sort_values(["part_no", "shipped_us", "shipment_id", "container_id", "coil_id"])
    return rows.assign(shipment_id=rows["shipments"])


def _complaints(week: PlantWeek, customer: str) -> pd.DataFrame:
    table = week.complaints[week.complaints["customer"] == customer].sort_values(["reported_us", "complaint_id"])
    # Of a container that went to somebody else nothing is told, whoever names it.
    looked = week.complained_boxes
    looked = looked[looked["sent_to"].map(lambda to: not to or customer in to).astype(bool)]
    once = looked.drop_duplicates(["container_id", "inspection_id"]).groupby("container_id")["inspected"].sum()
    found = looked.groupby(["container_id", "cause"])["rejected"].sum()
    boxes = [name if name in once.index else "" for name in table["container_id"]]
    calendar = week.book.calendar
    return table.assign(
        reported_at=calendar.local_iso(table["reported_us"]),
        closed_at=calendar.local_iso(None if pd.isna(us) else int(us) for us in table["closed_us"]),
        delivered_in=[_week_of(week, us) for us in table["delivered_us"]],
        cause_name=table["cause"].map(_names(week)).fillna(""),
        our_inspected=pd.array([once[name] if name else None for name in boxes], "Int64"),
        our_rejected=pd.array(
            [
                int(found.get((name, cause), 0)) if name else None
                for name, cause in zip(boxes, table["cause"], strict=True)
            ],
            "Int64",
        ),
    )


def _week_of(week: PlantWeek, us: int) -> str:
    return week_of(week.book.calendar.plant_day(us), week.plant.week_start)


def _holds(week: PlantWeek, customer: str) -> pd.DataFrame:
    own, rows = _own(week, customer), []
    for hold in week.holds:
        gone = [box for box in hold.boxes if customer in box.customers]
        here = [box for box in hold.boxes if not box.customers and box.part_no in own]
        if not (gone or here):
            continue
        (placed_at,) = week.book.calendar.local_iso([hold.placed_us])
        parts = tuple(sorted({box.part_no for box in (*gone, *here)}))
        counts = (count for boxes in (here, gone) for count in (len(boxes), _pieces(boxes)))
        rows.append((hold.hold_id, placed_at, hold.scope, _held_value(hold, (*gone, *here)), parts, *counts))
    return pd.DataFrame(rows, columns=list(TABLES["holds"].columns))


def _pieces(boxes: Sequence[HeldBox]) -> int | None:
    """Return the pieces in some containers, None where nobody knows how many are in one of them."""
    counts = [box.pieces for box in boxes if box.pieces is not None]
    return sum(counts) if len(counts) == len(boxes) else None


def _held_value(hold: OpenHold, mine: Sequence[HeldBox]) -> str:
    """Return what is held as a customer may read it; of a container those that are the customer's."""
    if hold.scope in ("die", "range"):
        # A press or a die is the plant's own business; a customer is told which pieces are held.
        return ""
    if hold.scope != "container":
        return hold.value
    names = {box.container_id for box in mine}
    # Pieces were packed over: the container under hold itself may have gone to somebody else.
    return hold.value if hold.value in names else joined(sorted(names))
