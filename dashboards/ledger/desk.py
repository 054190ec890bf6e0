"""What the week page may ask of the quality desk: reports to look at, made in the background, and noted as sent."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from monitor.enter.actions import Action, Key
from monitor.report import CustomerWeek, Due, FigureChange, SentReport


@dataclass(frozen=True)
class Week:
    """A week of the plant: its ISO name and its first and last day."""

    name: str
    first: dt.date
    last: dt.date


@dataclass(frozen=True)
class CustomerReport:
    """One customer's report as it would be made now: its view, its page, and what is written and sent about it."""

    view: CustomerWeek
    page: str
    actions: Mapping[Key, Action]
    sent: SentReport | None
    changes: Sequence[FigureChange]


@dataclass
class Job:
    """Reports in the making: how many are done, which is at work, and the files so far by path in the folder."""

    week: str
    customers: tuple[str, ...]
    version: int
    done: int = 0
    now: str = ""
    finished: bool = False
    failed: Exception | None = None
    files: dict[str, bytes] = field(default_factory=dict)
    entries: list[SentReport] = field(default_factory=list)


class QualityDesk(Protocol):
    """The quality desk over a ledger; times and versions are those of its newest state."""

    def customers(self) -> list[str]:
        """All customers there ever were."""

    def weeks(self) -> list[Week]:
        """Weeks with strokes, up to the last whole one that has any, newest first."""

    def week(self, name: str) -> Week:
        """A week by its name; raises RequestError where there is no such week."""

    def report(self, customer: str, week: str) -> CustomerReport:
        """The report of a customer as it would be made now."""

    def due(self, week: str) -> list[Due]:
        """How the reports of all customers stand."""

    def start(self, week: str, customers: Sequence[str]) -> str:
        """Begin to make reports in every format; the number of the job."""

    def job(self, number: str) -> Job | None:
        """A job of the last few, None where it is not known any more."""

    def mark_sent(self, number: str, by: str) -> list[SentReport]:
        """Note the reports of a finished job as sent."""

    def write(self, customer: str, week: str, texts: Mapping[Key, tuple[str, str]], by: str) -> None:
        """Enter what was done about causes; see `monitor.enter.actions.write`."""
