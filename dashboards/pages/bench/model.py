"""One die and cause over a range: what the bench page shows, worked out once for everybody who looks at it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import pandas as pd

from dashboards.ledger.version import LedgerVersion
from dashboards.parts.picker import bounds, last_days
from dashboards.request.formats import day
from dashboards.request.locale import say
from dashboards.request.url import View
from monitor.figures.judgement.bench import GIVEN, Case, PlantLook, case, certificates, headlines, stations
from monitor.figures.judgement.proof import Proofs
from monitor.reckoning.attribution.suspects import Suspect
from monitor.verdict.table import table_level
from shared.calendar import Calendar

DEFAULT_DAYS = 90
"""Plant days looked at unless told otherwise: several lots and sharpenings; common practice, no source."""


@dataclass(frozen=True)
class Sides:
    """The rows a line calls bad, and those it compares them with."""

    bad: pd.DataFrame
    compared: pd.DataFrame

    @property
    def rate(self) -> float:
        """Share rejected in the rows compared, 0 where there are none."""
        looked = float(self.compared["inspected"].sum())
        return float(self.compared["rejected"].sum()) / looked if looked else 0.0


@dataclass(frozen=True)
class Bench:
    """All of a die and cause that is worked out once: the case, the rows of each line given, the stations.

    `clock` is the calendar by whose clock times are written.
    """

    case: Case
    proofs: Proofs
    given: tuple[Sides | None, ...]
    stations: pd.DataFrame
    certificates: pd.DataFrame
    clock: Calendar


@dataclass(frozen=True)
class BenchView:
    """What the bench page shows; `lack` says what to do where there is nothing to show.

    `cases`: see `headlines`.  `chosen` is the line whose rows are shown and `sides` those rows.  `capability` are the
    rows of that figure for the die.
    """

    view: View
    version: int
    die_names: Mapping[str, str] = field(default_factory=dict)
    cause_names: Mapping[str, str] = field(default_factory=dict)
    cases: pd.DataFrame = field(default_factory=pd.DataFrame)
    lack: str = ""
    bench: Bench | None = None
    chosen: int = -1
    sides: Sides | None = None
    capability: pd.DataFrame = field(default_factory=pd.DataFrame)

    @property
    def line(self) -> Suspect | None:
        """The line whose rows are shown."""
        if self.bench is None or self.chosen < 0:
            return None
        return self.bench.case.lines[self.chosen]

    @property
    def cause_name(self) -> str:
        """Code and name of the cause."""
        return f"{self.view.cause} {self.cause_names.get(self.view.cause, '')}".strip()

    @property
    def die_name(self) -> str:
        """Number and name of the die."""
        return f"{self.view.die} {self.die_names.get(self.view.die, '')}".strip()


def with_dates(reading: LedgerVersion, view: View) -> View:
    """The view with the page's own range filled in: the last days up to the newest reading."""
    return last_days(reading, view, DEFAULT_DAYS)


def look_of(reading: LedgerVersion, view: View) -> PlantLook | None:
    """The look at the whole plant that a view is part of; None before there is any reading."""
    view = with_dates(reading, view)
    if not (view.since and view.until) or view.since > view.until:
        return None
    return reading.look(*bounds(reading.calendar(), view))


def chosen(reading: LedgerVersion, view: View) -> View:
    """The view with everything the page chooses: the range, and the die and cause with the strongest line."""
    view = with_dates(reading, view)
    seen = look_of(reading, view)
    if seen is None or (view.die and view.cause):
        return view
    cases = _cases(reading, seen)
    mine = cases[cases["die_id"] == view.die] if view.die else cases
    mine = mine[mine["cause"] == view.cause] if view.cause else mine
    if mine.empty:
        return view
    first = mine.iloc[0]
    return view.but(die=str(first["die_id"]), cause=str(first["cause"]))


def load_bench(reading: LedgerVersion, view: View) -> BenchView:
    """The die and cause of a view over its range; says what is lacking instead of showing nothing."""
    view = chosen(reading, view)
    dies, causes = reading.names("dies", view.until), reading.names("causes", view.until)
    shown = BenchView(view, reading.version, dies, causes)
    seen = look_of(reading, view)
    if seen is None:
        return replace(shown, lack=_no_range(view))
    shown = replace(shown, cases=_cases(reading, seen))
    lack = _lack(shown, seen)
    if lack:
        return replace(shown, lack=lack)
    bench = reading.cached(
        ("bench", *seen.asked, view.die, view.cause), lambda: _bench(reading, seen, view.die, view.cause)
    )
    at = _line_of(bench.case.lines, view)
    held = reading.figure("capability", seen.from_, seen.to, die=view.die)
    return replace(shown, bench=bench, chosen=at, sides=_sides_at(bench, at), capability=held)


def _cases(reading: LedgerVersion, seen: PlantLook) -> pd.DataFrame:
    return reading.cached(("bench-cases", *seen.asked), lambda: headlines(seen))


def _no_range(view: View) -> str:
    if view.since and view.until:
        dates = {"since": day(view.since), "until": day(view.until)}
        return say("The dates run backwards: {since} to {until}. Pick the earlier date first.", **dates)
    return say("No counter has been read yet. Load strokes files first.")


def _lack(shown: BenchView, seen: PlantLook) -> str:
    view = shown.view
    if not seen.rows:
        return say(
            "No inspection in this range says which coil and die state its pieces came from. "
            "Load inspections, or widen the dates."
        )
    if view.die not in seen.rows:
        return say(
            "Nobody looked at pieces of die “{die}” in this range. Pick another die, or widen the dates.", die=view.die
        )
    if not view.cause:
        return say("No piece of {die} was rejected in this range.", die=shown.die_name)
    return ""


def _bench(reading: LedgerVersion, seen: PlantLook, die: str, cause: str) -> Bench:
    told = case(seen, die, cause)
    proofs = Proofs(told.rows)
    given = tuple(_sides(told.rows, proofs, line) if line.verdict in GIVEN else None for line in told.lines)
    service = reading.station_service(seen, die)
    return Bench(
        told,
        proofs,
        given,
        stations=stations(seen, die, cause, service),
        certificates=certificates(told),
        clock=seen.book.calendar,
    )


def _sides(rows: pd.DataFrame, proofs: Proofs, line: Suspect) -> Sides | None:
    found = proofs.of(line.explanation, line.tied_with)
    return None if found is None else Sides(rows[found.bad], rows[found.compared])


def _sides_at(bench: Bench, at: int) -> Sides | None:
    if at < 0:
        return None
    return bench.given[at] or _sides(bench.case.rows, bench.proofs, bench.case.lines[at])


def _line_of(lines: Sequence[Suspect], view: View) -> int:
    """Place of the line that the address names, else of the strongest; -1 where there is none."""
    if not lines:
        return -1
    names = [(line.explanation.factor, table_level(line.explanation)) for line in lines]
    asked = (view.scope, view.value)
    return names.index(asked) if asked in names else 0
