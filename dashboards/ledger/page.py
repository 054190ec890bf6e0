"""What a page is, and what it may ask the data door for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, TypeVar

import pandas as pd
from dash import Dash

from dashboards.ledger.desk import QualityDesk
from dashboards.ledger.floor import Floor, FloorReading
from dashboards.request.url import View
from monitor.figures.contradictions import Contradiction
from monitor.figures.genealogy.holds import Bearing
from monitor.figures.genealogy.holds_in_force import HoldPlace
from monitor.figures.genealogy.trace import Traced
from monitor.figures.judgement.bench import PlantLook
from monitor.figures.material.unscanned import Missing
from monitor.load.counter_clocks import Clock
from monitor.report.evidence.sheet import EvidenceQuery
from shared.calendar import Calendar
from shared.words import Words

Answer = TypeVar("Answer")


class LedgerVersion(Protocol):
    """What a page may ask of one version of the ledger."""

    @property
    def version(self) -> int:
        """Number of the version; nothing has changed while it stays the same."""

    @property
    def floor(self) -> FloorReading:
        """What may be asked about the floor: orders, alarms, where rejects were found, what was entered."""

    def figure(self, name: str, from_: str = "", to: str = "", press: str = "", die: str = "") -> pd.DataFrame:
        """Rows of a figure table; `from_` is included, `to` is not, empty means no bound."""

    def figures(
        self, names: Sequence[str], from_: str = "", to: str = "", press: str = "", die: str = ""
    ) -> dict[str, pd.DataFrame]:
        """Rows of several figure tables of one range, quicker than one by one."""

    def press_states(self) -> pd.DataFrame:
        """How each press stands at its newest reading."""

    def calendar(self) -> Calendar | None:
        """The plant calendar, None before a plant.toml has been loaded."""

    def names(self, table: str, day: dt.date | None = None) -> dict[str, str]:
        """Names of the plant book by id, for `presses`, `dies`, `parts`, `causes` or `reasons`, as on a plant day.

        Without one that is the day of the newest counter reading.
        """

    def scopes_of(self, value: str) -> list[str]:
        """What a name is known as: container, shipment, coil, lot, heat."""

    def trace(self, scope: str, value: str) -> Traced:
        """Rows of `monitor.figures.genealogy.trace.trace_by` for one thing, and the repacks between the containers."""

    def hold_history(self) -> pd.DataFrame:
        """All holds, lifted ones too, newest first, with who placed and who lifted each."""

    def traced_hold(self, hold_id: str) -> tuple[Traced, Bearing]:
        """The containers and coils a hold bears on, with the ways of the pieces; never change them."""

    def holds(self) -> pd.DataFrame:
        """The holds that stand, newest first."""

    def bites(self) -> list[HoldPlace]:
        """Where the holds that stand bite, the most urgent first."""

    def unspent_coils(self) -> pd.DataFrame:
        """Rows of the figure `coil_ledger` of the coils that are not used up."""

    def held_at_presses(self) -> list[HoldPlace]:
        """Strip under hold that lies on a press now."""

    def missing_scans(self, from_: str = "", to: str = "", press: str = "") -> list[Missing]:
        """The coil changes that seem not to have been noted, newest first."""

    def contradictions(self, from_: str = "", to: str = "", press: str = "", die: str = "") -> list[Contradiction]:
        """The sets of rows in range that cannot all be true, in order of time."""

    def look(self, from_: str, to: str) -> PlantLook:
        """What moves the scrap of every die and cause, with the inspections behind it; never change it."""

    def station_service(self, seen: PlantLook, die: str) -> pd.DataFrame:
        """Rows of the figure `service` of one die, from inspections that were looked at already."""

    def evidence_files(self, seen: PlantLook, asked: EvidenceQuery, words: Words) -> dict[str, bytes]:
        """The evidence sheet of a line as PDF, its rows and all lines as CSV, by file name."""

    def clocks(self) -> Mapping[str, Clock]:
        """What loads have found of the clocks of counters, by press."""

    def once(self, question: tuple[str, ...], load: Callable[[], Answer]) -> Answer:
        """What `load` gives, worked out once for everybody; never change it."""

    def rated_per_hour(self, press_id: str, die_id: str, date: dt.date) -> float | None:
        """Pieces an hour at the rated speed, the lower of press and die on that date; None where it is not known."""


class Door(Protocol):
    """Where a page gets its readings, and enters what a person decides."""

    @property
    def desk(self) -> QualityDesk:
        """The quality desk: reports for customers."""

    @property
    def floor(self) -> Floor:
        """Where the floor's entries go."""

    def read(self) -> LedgerVersion:
        """The newest version of the ledger."""

    def place_hold(self, scope: str, value: str, reason: str, by: str, from_: str = "", to: str = "") -> str:
        """Place a hold, on a die or press over some plant time; its number."""

    def hold_tags(self, hold_id: str) -> bytes:
        """Tags of a hold as a PDF, empty where nothing of it is here."""

    def watch(self) -> dict[str, Any]:
        """What the watch of a folder last said of itself, empty where none was ever watched."""

    def release_rows(
        self, rows: Mapping[int, str | None], values: Mapping[str, str], by: str, correct: bool
    ) -> tuple[str, int]:
        """Let in rows that were set aside, mended or with values put in; what became of them, and the version."""

    def lift_hold(self, hold_id: str, outcome: str, by: str) -> None:
        """Lift a hold."""


@dataclass(frozen=True)
class Page:
    """A page: where it is, its name, what it draws for a view, and the callbacks it needs.

    `layout(reading, view)` gives a Dash component; `register(app, door)` adds the callbacks.  A page that is reached
    from another only, and stands under its name, has that one's path in `within`.
    """

    path: str
    name: str
    layout: Callable[[LedgerVersion, View], Any]
    register: Callable[[Dash, Door], None]
    within: str = ""
