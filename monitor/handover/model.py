"""What one shift hands over to the next, as plain records: what ran, what stood, what is open."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from monitor.plant.order_pace import OrderPace


@dataclass(frozen=True)
class PressLine:
    """Output of a press in the shift; `plan` is what its planned time holds [pieces], None where no rate is known.

    Good and setting pieces are None where the rows they are made of cannot all be true.
    """

    press_id: str
    name: str
    dies: str
    parts: str
    pieces: int
    good: int | None
    setup_pieces: int | None
    plan: float | None
    running_s: float
    stopped_s: float
    planned_s: float
    unresolved_s: float = 0.0
    order: OrderPace | None = None


@dataclass(frozen=True)
class StopLine:
    """A stretch of standing time with one reason; `end_us` is None while it lasts."""

    press_id: str
    start_us: int
    end_us: int | None
    seconds: float
    reason: str
    kind: str


@dataclass(frozen=True)
class ScrapLine:
    """Rejects of a cause beside their usual band [pieces]; None where there is too little to tell what is usual."""

    press_id: str
    die_id: str
    cause: str
    name: str
    kind: str
    rejected: int
    inspected: int
    low: int | None
    high: int | None

    @property
    def out(self) -> str:
        """Tell `above` or `below` the band, or "" inside of it and where there is none."""
        if self.low is None or self.high is None:
            return ""
        return "above" if self.rejected > self.high else "below" if self.rejected < self.low else ""


@dataclass(frozen=True)
class CoilLine:
    """The coil on a press at the end of the shift, and the strip left; None where its weight is not known."""

    press_id: str
    coil_id: str
    lot: str
    left_kg: float | None
    left_m: float | None


@dataclass(frozen=True)
class DueLine:
    """Edges of a die that are due, or will be within a day of the end of the shift."""

    die_id: str
    stations: tuple[int, ...]
    strokes: int | None
    every: int | None
    due_us: int | None


@dataclass(frozen=True)
class AlarmLine:
    """A spike of scrap that the watch called in the shift; `usual` is the settled rate [1]."""

    press_id: str
    die_id: str
    cause: str
    name: str
    at_us: int
    rejected: int
    inspected: int
    usual: float


@dataclass(frozen=True)
class HoldLine:
    """A hold that stood at the end of the shift."""

    hold_id: str
    scope: str
    value: str
    reason: str
    placed_us: int


@dataclass(frozen=True)
class ContradictionLine:
    """Rows of the shift that cannot all be true: of which kind, about which presses, and what to do."""

    press_id: str
    at_us: int
    code: str
    remedy: str


@dataclass(frozen=True)
class NoteLine:
    """A note on the shift; `press_id` is empty where it is about all of them."""

    note_id: str
    press_id: str
    at_us: int
    note: str


@dataclass(frozen=True)
class HandOver:
    """One shift, ready to be read or printed; `lack` says what is missing where there is nothing to hand over."""

    plant: str = ""
    date: dt.date | None = None
    shift: str = ""
    start_us: int = 0
    end_us: int = 0
    newest_us: int = 0
    zone: str = ""
    version: int = 0
    over: bool = False
    presses: tuple[PressLine, ...] = ()
    stops: tuple[StopLine, ...] = ()
    scrap: tuple[ScrapLine, ...] = ()
    coils: tuple[CoilLine, ...] = ()
    due: tuple[DueLine, ...] = ()
    alarms: tuple[AlarmLine, ...] = ()
    holds: tuple[HoldLine, ...] = ()
    notes: tuple[NoteLine, ...] = ()
    contradictions: tuple[ContradictionLine, ...] = ()
    set_aside: int = 0
    lack: str = ""
