"""Coil, die or run: all that a person at the bench looks at for one die and cause, from one look at the whole plant.

Everything here is worked out from the frames of a `PlantLook`; nothing is read or remembered.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from monitor.figures.judgement import coil_order as order
from monitor.figures.judgement.analysis import FOUND, causes_in, making_stations, wear_of, worn
from monitor.figures.scope import Bound, bound_text
from monitor.plant.book import Book, Record
from monitor.plant.records import die_stations
from monitor.reckoning.attribution.suspects import Suspect
from monitor.reckoning.statistics.intervals import wilson
from monitor.reckoning.statistics.wear import WearTable

Floats = npt.NDArray[np.float64]

#: Order of the verdicts, the most telling first.
VERDICTS = ("acts", "tied", "not_enough", "clear")

#: Verdicts of the lines that are given in full.
GIVEN = ("acts", "tied")

_CERT = "cert_"


@dataclass(frozen=True)
class PlantLook:
    """All dies of a plant looked at together: one version of the ledger, one range.

    `rows` are inspections by die (see `series`), `lines` the verdict on all of them, `services` the rows of
    `die_service`.  `from_` and `to` are as they were asked for, `asked` in words.
    """

    version: int
    from_: Bound
    to: Bound
    book: Book
    rows: Mapping[str, pd.DataFrame]
    lines: tuple[Suspect, ...]
    services: tuple[Record, ...]

    @property
    def asked(self) -> tuple[str, str]:
        """Both ends of the range as a person would write them, "" where there is no limit."""
        return bound_text(self.book.calendar, self.from_), bound_text(self.book.calendar, self.to)


@dataclass(frozen=True)
class Case:
    """One die and cause of a look.

    `rows`: its inspections in time order, with rejected [pieces], worn [strokes], wear_rate [1] and place [coils, 0 =
    middle of the first].  `lines`: its verdict, in the order of the figure `suspects` but what is not enough before
    what is clear.  `coils`: see `coil_runs`.  `marks`: place, kind (sharpened, set), time_us, station, removed_mm,
    setup_id.  `alarms`: place, time_us, coil_id.  `changes`: place, place_low, place_high, time_us, before, after [1].
    """

    die_id: str
    cause: str
    rows: pd.DataFrame
    lines: tuple[Suspect, ...]
    coils: pd.DataFrame
    wear: WearTable
    marks: pd.DataFrame
    alarms: pd.DataFrame
    changes: pd.DataFrame

    @property
    def inspected(self) -> int:
        """Pieces looked at."""
        return int(self.rows["inspected"].sum())

    @property
    def rejected(self) -> int:
        """Pieces rejected for the cause."""
        return int(self.rows["rejected"].sum())


def headlines(look: PlantLook) -> pd.DataFrame:
    """Return a row for each die and cause, those that act first and then by the pieces they explain.

    Columns: die_id, cause, inspected, rejected, verdict and pieces_explained of the strongest line, that line (None
    where there is none), lines (how many act or are tied).  A die without rejects has a row with the cause "".
    """
    rows = [row for die in look.rows for row in _headlines(look, die)]
    table = pd.DataFrame(rows, columns=_HEADLINE)
    rank = table["verdict"].map({name: place for place, name in enumerate(VERDICTS)}).fillna(len(VERDICTS))
    table = table.assign(rank=rank, weight=-table["pieces_explained"].fillna(0.0), seen=-table["rejected"])
    table = table.sort_values(["rank", "weight", "seen", "die_id", "cause"], kind="stable")
    return table[_HEADLINE].reset_index(drop=True)


_HEADLINE = [
    "die_id", "cause", "inspected", "rejected", "verdict", "pieces_explained", "line", "lines",
]  # fmt: skip


def _headlines(look: PlantLook, die: str) -> Iterator[tuple[object, ...]]:
    rows = look.rows[die]
    pieces = int(rows["inspected"].sum())
    causes = causes_in(rows)
    if not causes:
        yield (die, "", pieces, 0, "", np.nan, None, 0)
    for cause in causes:
        lines = lines_of(look, die, cause)
        given = sum(line.verdict in GIVEN for line in lines)
        first = lines[0] if lines else None
        told = ("", np.nan) if first is None else (first.verdict, first.pieces_explained)
        yield (die, cause, pieces, int(rows[FOUND + cause].sum()), *told, first, given)


def lines_of(look: PlantLook, die: str, cause: str) -> tuple[Suspect, ...]:
    """Return the lines of a die and cause: what is not enough before what is clear, the others in their order."""
    mine = [line for line in look.lines if (line.die_id, line.cause) == (die, cause)]
    return tuple(sorted(mine, key=lambda line: max(VERDICTS.index(line.verdict), 1)))


def case(look: PlantLook, die: str, cause: str) -> Case:
    """Return all that is known of a die and cause; raises KeyError for one that nobody looked at."""
    stations = [number for number, _ in making_stations(die, cause, look.book)]
    rows = look.rows[die]
    rows = rows[rows["inspected"] > 0]
    found = rows[FOUND + cause] if FOUND + cause in rows else pd.Series(0.0, index=rows.index)
    # Rejects and rework of one cause may together pass what a stretch holds.
    rows = rows.assign(rejected=np.minimum(found, rows["inspected"]), worn=worn(rows, stations))
    wear = wear_of(rows.assign(**{FOUND + cause: rows["rejected"]}), cause, stations)
    rows = rows.assign(wear_rate=order.rate_at(wear, rows["worn"].to_numpy(np.float64)))
    rows = rows.sort_values(["from_us", "press_id", "out"], kind="stable").reset_index(drop=True)
    alone = rows["mounting_id"] != ""  # A tub count over several coils is of none.
    coils = order.coil_runs(rows[alone] if alone.any() else rows)
    rows["place"] = order.places(coils, rows)
    checks = order.checks(rows)
    spread = order.spread(checks, float(coils["usual"].iloc[0]))
    return Case(
        die_id=die,
        cause=cause,
        rows=rows,
        lines=lines_of(look, die, cause),
        coils=coils,
        wear=wear,
        marks=order.marks(coils, rows, look.services, die, stations),
        alarms=order.alarms(checks, float(coils["usual"].iloc[0]), spread),
        changes=order.changes(checks, spread),
    )


def certificates(shown: Case) -> pd.DataFrame:
    """Return a row for each coil and certificate value or own test that differs between coils.

    Columns: property, source ("" from the coil's row, certificate, own), value, coil_id, lot, inspected, rejected,
    rate, rate_low, rate_high; of two properties with the same values on every coil the first is kept.
    """
    names = [str(name) for name in shown.rows if str(name).startswith(_CERT)]
    known = shown.rows[shown.rows["coil_id"] != ""]
    sums = known.groupby(["coil_id", "lot"], sort=False)[["inspected", "rejected"]].sum()
    values = known.groupby(["coil_id", "lot"], sort=False)[names].first() if names else pd.DataFrame(index=sums.index)
    first = {values[name].to_numpy(np.float64).tobytes(): name for name in reversed(names)}
    tables = [_certificate(name, values[name], sums) for name in names if name in first.values()]
    return pd.concat(tables, ignore_index=True) if tables else pd.DataFrame(columns=_CERT_TABLE)


_CERT_TABLE = [
    "property", "source", "value", "coil_id", "lot", "inspected", "rejected", "rate", "rate_low", "rate_high",
]  # fmt: skip
_SOURCES = ("certificate", "own")


def _certificate(column: str, values: pd.Series, sums: pd.DataFrame) -> pd.DataFrame:
    name = column.removeprefix(_CERT)
    told, _, source = name.rpartition("_")
    name, source = (told, source) if source in _SOURCES else (name, "")
    rows = sums.assign(value=values)[values.notna()].reset_index()
    low, high = wilson(rows["rejected"], rows["inspected"])
    rate = rows["rejected"] / rows["inspected"]
    return rows.assign(property=name, source=source, rate=rate, rate_low=low, rate_high=high)[_CERT_TABLE]


def stations(look: PlantLook, die: str, cause: str, service: pd.DataFrame) -> pd.DataFrame:
    """Return a row for each station of a die in order.

    Columns: station, operation (a tuple), look (1 = open this one first, 0 = cannot make the cause), and from the
    figure `service` strokes_since_sharpening, sharpen_every_strokes, economic_interval, expected_due_at.
    """
    last = {one.number: one.operations for one in die_stations(look.book.tables["stations"], die)}
    order = {number: place for place, (number, _) in enumerate(making_stations(die, cause, look.book), 1)}
    rows = [(number, operations, order.get(number, 0)) for number, operations in sorted(last.items())]
    table = pd.DataFrame(rows, columns=["station", "operation", "look"])
    mine = service[service["die_id"] == die].drop(columns="die_id")
    return table.merge(mine.astype({"station": "int64"}), on="station", how="left")
