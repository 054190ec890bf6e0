"""Figures that judge rather than count: wear, service and the verdict on scrap, for what a scope asks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping

import numpy as np
import numpy.typing as npt
import pandas as pd

from monitor.figures.judgement.die_strokes import strokes_of
from monitor.figures.judgement.series import WEAR, Facts, renewals, series
from monitor.figures.material.mountings import mountings
from monitor.figures.question import Question
from monitor.figures.scope import Scope
from monitor.ledger import Snapshot
from monitor.plant.book import Book, Record
from monitor.plant.records import die_stations, items, records
from monitor.reckoning.attribution import suspects as verdicts
from monitor.reckoning.attribution.context import stations_of
from monitor.reckoning.statistics.wear import WearTable, wear_table

FOUND = "found_"
"""Begins the names of the columns that count the rejects of a cause."""

_DAY = dt.timedelta(days=1)


def evidence(
    snapshot: Snapshot, book: Book, scope: Scope, mountings: pd.DataFrame, dies: Iterable[str]
) -> dict[str, pd.DataFrame]:
    """Return, by die, the inspections in range with what each piece was made of and on; see `series`.

    `mountings` are those of the range; wear and settings reach back to the beginning.  A die that nobody looked at is
    left out.
    """
    first, after = scope.dates(book.calendar)
    changes = records(snapshot.rows("die_changes"))
    services, tests = records(snapshot.rows("die_service")), records(snapshot.rows("coil_tests"))
    settings = [row for row in changes if row["event"] == "set"]
    book = book.of_coils(snapshot.lookup("coils", "coil_id", set(mountings["coil_id"])))
    found = {}
    for die in dies:
        rejects, pieces = (
            scope.keep(snapshot.facts(kind, from_date=first, to_date=after, press_id=scope.press, die_id=die))
            for kind in ("rejects", "pieces")
        )
        if rejects.empty:
            continue
        mine = [row for row in settings if row["die_id"] == die and row["press_id"] in set(rejects["press_id"])]
        since_us = _since(scope.from_us, mine, renewals(die, services, book))
        strokes = strokes_of(snapshot, book.calendar, die, since_us, after)
        time = snapshot.facts("time", die_id=die, from_date=first and first - _DAY, to_date=after)
        facts = Facts(
            rejects,
            pieces,
            strokes=strokes,
            time=time,
            mountings=mountings,
            services=services,
            settings=settings,
            tests=tests,
        )
        rows = series(die, facts, book)
        if not rows.empty:
            found[die] = rows
    return found


def evidence_of(question: Question) -> dict[str, pd.DataFrame]:
    """Return the same for what is asked."""
    return evidence(question.snapshot, question.dated_book, question.scope, mountings(question), question.dies)


def _since(from_us: int | None, settings: Iterable[Record], renewed: Mapping[int, list[int]]) -> int | None:
    """Return how far back the strokes of pieces made from `from_us` on matter: to the setting and edges they ran on."""
    if from_us is None:
        return None
    earlier = sorted((row for row in settings if row["time"] <= from_us), key=lambda row: row["time"])
    set_us = {row["press_id"]: row["time"] for row in earlier}
    edges = [max(at for at in ats if at <= from_us) for ats in renewed.values() if ats[0] <= from_us]
    return min([from_us, *edges, *map(int, set_us.values())])


def causes_in(rows: pd.DataFrame) -> list[str]:
    """Return the causes that were found in the rows of a series, the most rejects first."""
    sums = {str(name).removeprefix(FOUND): rows[name].sum() for name in rows if str(name).startswith(FOUND)}
    return sorted((cause for cause, pieces in sums.items() if pieces > 0), key=lambda cause: (-sums[cause], cause))


def verdict_lines(
    rows_by_die: dict[str, pd.DataFrame], book: Book, remembered: verdicts.Remembered | None = None
) -> tuple[verdicts.Suspect, ...]:
    """Return the lines of the verdict; all dies and causes given are looked at together.

    With what was `remembered` of earlier looks only dies and causes with new rows are worked out.
    """
    asked = [
        verdicts.Series(
            die,
            cause,
            rows=rows,
            rejected=rows[FOUND + cause].to_numpy(np.float64),
            stations=tuple(number for number, _ in making_stations(die, cause, book)),
        )
        for die, rows in rows_by_die.items()
        for cause in causes_in(rows)
    ]
    return verdicts.suspects(asked, remembered)


def making_stations(die_id: str, cause: str, book: Book) -> list[tuple[int, str]]:
    """Return the stations of a die whose operation can make a cause, with that operation.

    Stations of the operation that the plant book names first for the cause come first; for a fault made before or
    after the die there is none.
    """
    row = next((row for row in book.tables["causes"] if row["cause"] == cause), {})
    wanted = items(row.get("operations"))
    found: dict[int, tuple[int, str]] = {}
    for station in die_stations(book.tables["stations"], die_id):
        ranks = [(wanted.index(name), name) for name in station.operations if name in wanted]
        found.pop(station.number, None)  # A later row of the same station replaces the earlier one.
        if ranks:
            found[station.number] = min(ranks)
    return [(number, name) for number, (_, name) in sorted(found.items(), key=lambda item: (item[1][0], item[0]))]


def wear_of(rows: pd.DataFrame, cause: str, stations: Iterable[int]) -> WearTable:
    """Return rejects of a cause by strokes since sharpening of the dullest of these stations."""
    return wear_table(worn(rows, stations), rows["inspected"], rows[FOUND + cause])


def worn(rows: pd.DataFrame, stations: Iterable[int]) -> npt.NDArray[np.float64]:
    """Return strokes since sharpening of the dullest of these stations, of any where none of them has an edge.

    NaN where the history of none is known.
    """
    named = {str(name): set(stations_of(str(name))) for name in rows if str(name).startswith(WEAR)}
    wanted = set(stations)
    mine = [name for name, own in named.items() if not own or own & wanted] or list(named)
    if not mine:
        return np.full(len(rows), np.nan)
    return rows[mine].max(axis=1).to_numpy(np.float64)
