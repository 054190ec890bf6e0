"""Which reports are due: the weekdays of plant.toml against the week and the register of what was sent."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from monitor.report.register import SentReport
from shared.plant import WEEKDAYS, ReportStyle


class ReportStatus(StrEnum):
    """How the report of a week stands."""

    SENT = "sent"
    MADE = "made"
    DUE = "due"
    AHEAD = "ahead"
    UNPLANNED = "unplanned"


@dataclass(frozen=True)
class Due:
    """One customer's report: the day it is due on, None where plant.toml names none, what was sent and made last."""

    customer: str
    on: dt.date | None
    sent: SentReport | None
    standing: ReportStatus
    made: SentReport | None = None


def due_on(style: ReportStyle, customer: str, after: dt.date) -> dt.date | None:
    """Return the day a report is due: the first of its weekday from `after` on, the day after the week it is about."""
    day = style.to(customer).day
    return None if day is None else after + dt.timedelta(days=(WEEKDAYS.index(day) - after.weekday()) % 7)


def due(
    style: ReportStyle,
    customers: Iterable[str],
    week: str,
    after: dt.date,
    today: dt.date,
    sent: Iterable[SentReport],
    made: Iterable[SentReport] = (),
) -> list[Due]:
    """Return how the reports of a week stand today.

    `sent` and `made` are the registers of what was sent, and of what was made when it was due, in their order; `after`
    as in `due_on`.
    """
    last, ready = ({entry.customer: entry for entry in some if entry.week == week} for some in (sent, made))
    found = []
    for customer in customers:
        on = due_on(style, customer, after)
        standing = _standing(on, today, customer in last, customer in ready)
        found.append(Due(customer, on, last.get(customer), standing, ready.get(customer)))
    return found


def _standing(on: dt.date | None, today: dt.date, sent: bool, made: bool) -> ReportStatus:
    if sent:
        return ReportStatus.SENT
    if made:
        return ReportStatus.MADE
    if on is None:
        return ReportStatus.UNPLANNED
    return ReportStatus.DUE if on <= today else ReportStatus.AHEAD
