"""What the week page shows: which reports are due, and one customer's report with what is written and sent about it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from dashboards.ledger.quality_desk import CustomerReport, QualityDesk, Week
from dashboards.ledger.version import LedgerVersion
from dashboards.parts.picker import Choice
from dashboards.request.locale import key, say
from dashboards.request.url import View
from monitor.report import Due
from shared.errors import RequestError

#: Causes of a part that are asked about; the report lists all of them.
MOST_CAUSES = 3


@dataclass(frozen=True)
class Cause:
    """A cause that the customer may be told about: its rejects, and what was written of it."""

    part_no: str
    cause: str
    name: str
    rejected: int
    done: str
    by: str
    at_us: int


@dataclass(frozen=True)
class WeekView:
    """The page: what can be chosen, what is chosen, and the report or the sentence that says what is lacking."""

    customers: Sequence[str]
    weeks: Sequence[Week]
    customer: str
    week: Week | None
    lack: str = ""
    due: Sequence[Due] = ()
    report: CustomerReport | None = None
    causes: Sequence[Cause] = ()

    @property
    def all_weeks(self) -> list[Week]:
        """The weeks to choose from, the newest first; one that only the address names is among them."""
        own = [self.week] if self.week else []
        named = {week.name: week for week in [*self.weeks, *own]}
        return sorted(named.values(), key=lambda week: week.first, reverse=True)

    @property
    def empty(self) -> bool:
        """Whether nothing was made, shipped or complained about in the week."""
        if self.report is None:
            return True
        tables = self.report.view.tables
        counts = tables["parts"][["made", "shipped"]].fillna(0).to_numpy()
        return not counts.any() and tables["complaints"].empty

    @property
    def silent(self) -> list[str]:
        """Parts that were made and not inspected."""
        if self.report is None:
            return []
        tables = self.report.view.tables
        made = tables["parts"].loc[tables["parts"]["made"].fillna(0) > 0, "part_no"]
        return sorted(set(made) - set(tables["rejects"]["part_no"]))


def load_week(desk: QualityDesk, view: View) -> WeekView:
    """The page for an address; a customer or week that nobody knows is said in a sentence."""
    customers, weeks = desk.customers(), desk.weeks()
    if not customers or not weeks:
        lacks = say("No customer is known yet. Load parts with their customer, and counter readings.")
        return WeekView(customers, weeks, view.customer, None, lacks)
    customer = view.customer or customers[0]
    try:
        week = desk.week(view.week or weeks[0].name)
    except RequestError:
        lacks = say("There is no week {week}. Weeks are written as {example}.", week=view.week, example=weeks[0].name)
        return WeekView(customers, weeks, customer, None, lacks)
    due = desk.due(week.name)
    if customer not in customers:
        known = ", ".join(customers)
        lacks = say("There is no customer {customer}. Customers are: {known}.", customer=customer, known=known)
        return WeekView(customers, weeks, customer=customer, week=week, lack=lacks, due=due)
    report = desk.report(customer, week.name)
    return WeekView(
        customers, weeks, customer=customer, week=week, lack="", due=due, report=report, causes=causes_of(report)
    )


def week_rows(desk: QualityDesk, reading: LedgerVersion, view: View) -> pd.DataFrame:
    """Rows of the figure `customer_week` of the customer and week of a view."""
    week = desk.week(view.week)
    rows = reading.figure("customer_week", week.first.isoformat(), (week.last + dt.timedelta(days=1)).isoformat())
    return rows[rows["customer"] == view.customer]


def ranges(shown: WeekView) -> tuple[Choice, ...]:
    """The week shown, and the ones before and after it."""
    if shown.week is None:
        return ()
    names = [week.name for week in shown.all_weeks]
    at = names.index(shown.week.name)
    words = ((key("← earlier"), at + 1), (key("Week"), at), (key("later →"), at - 1))
    return tuple(
        Choice(word, View(customer=shown.customer, week=names[place]), here=place == at)
        for word, place in words
        if 0 <= place < len(names)
    )


def causes_of(report: CustomerReport) -> list[Cause]:
    """The most frequent causes of each part, those complained about, and those of which something is written."""
    tables = report.view.tables
    rejects = tables["rejects"]
    found = rejects[rejects["rejected"] > 0]
    counts = {_key(row): int(row["rejected"]) for row in _rows(found.iloc[::-1])}
    wanted = {_key(row) for row in _rows(found.groupby("part_no").head(MOST_CAUSES))}
    wanted |= {_key(row) for row in _rows(tables["complaints"]) if row["cause"]} | set(report.actions)
    names = {row["cause"]: row["cause_name"] for name in ("rejects", "complaints") for row in _rows(tables[name])}
    order = sorted(wanted, key=lambda key: (key[0], -counts.get(key, 0), key[1]))
    return [_cause(key, names, counts, report) for key in order]


def _cause(
    key: tuple[str, str], names: Mapping[str, str], counts: Mapping[tuple[str, str], int], report: CustomerReport
) -> Cause:
    written = report.actions.get(key)
    done, by, at_us = (written.done, written.by, written.at_us) if written else ("", "", 0)
    return Cause(*key, name=names.get(key[1], ""), rejected=counts.get(key, 0), done=done, by=by, at_us=at_us)


def _rows(table: pd.DataFrame) -> list[dict[Hashable, Any]]:
    return table.to_dict("records")


def _key(row: Mapping[Hashable, Any]) -> tuple[str, str]:
    return str(row["part_no"]), str(row["cause"])
