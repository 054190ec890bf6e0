"""Figures of a shift by press, read once for all rows of the board."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from dashboards.ledger.floor_queries import FloorSigns
from dashboards.ledger.records import Records, by_press
from dashboards.ledger.version import LedgerVersion
from dashboards.pages.board.press_rows import PressStatus, press_state
from dashboards.request.formats import text
from monitor.figures.contradictions import Contradiction
from monitor.plant.order_pace import OrderPace
from shared.calendar import Calendar, ShiftWindow


@dataclass(frozen=True)
class ShiftFigures:
    """Figure rows of the chosen shifts, all presses."""

    reading: LedgerVersion
    calendar: Calendar
    newest_us: int
    live: bool
    names: Mapping[str, Mapping[str, str]]
    tables: Mapping[str, pd.DataFrame]
    orders: Mapping[str, OrderPace]
    signs: FloorSigns
    contradicting: Sequence[Contradiction] = ()

    def rated_per_hour(self, press_id: str, shifts: Records, window: ShiftWindow) -> dict[str, float | None]:
        """Rated pieces an hour of each die that ran in the shift."""
        dies = {str(row["die_id"]) for row in shifts}
        return {die: self.reading.rated_per_hour(press_id, die, window.shift_date) for die in dies}

    def state(self, state: Mapping[str, object], hours: Records) -> PressStatus:
        """How the press stands now; a shift that is over has no now."""
        if not self.live:
            return PressStatus("none", "")
        mine = self._mine("stops", text(state["press_id"]))
        shift_over = not self.calendar.shifts(text(state["press_id"]), self.newest_us, self.newest_us + 1)
        return press_state(
            state,
            self.newest_us,
            stops=mine,
            hours=hours,
            names=self.names["reasons"],
            calendar=self.calendar,
            shift_over=shift_over,
        )

    def of(self, name: str, press_id: str, window: ShiftWindow) -> Records:
        """Rows of one press and, where the table knows its shift, of this shift."""
        date, shift = str(window.shift_date), window.shift
        rows = self._mine(name, press_id)
        return [row for row in rows if (row.get("shift_date", date), row.get("shift", shift)) == (date, shift)]

    def doubted(self, press_id: str, window: ShiftWindow) -> list[Contradiction]:
        """Rows about one press that cannot all be true: noted in this shift, or beside its figures."""
        mine = [one for one in self.contradicting if press_id in one.presses]
        here = (window.shift_date.isoformat(), window.shift)
        return [one for one in mine if here in one.shifts or window.start_us <= one.at_us < window.end_us]

    def _mine(self, name: str, press_id: str) -> Records:
        return self._by_press[name].get(press_id, [])

    @cached_property
    def _by_press(self) -> Mapping[str, Mapping[str, Records]]:
        return {name: by_press(rows) for name, rows in self.tables.items()}
