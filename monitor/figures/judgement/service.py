"""The `service` table: strokes since each edge was renewed, and when the next sharpening falls due and pays."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from monitor.figures.columns import columns
from monitor.figures.judgement.analysis import FOUND, causes_in, evidence_of, making_stations, worn
from monitor.figures.judgement.die_strokes import strokes_of
from monitor.figures.judgement.series import cutting_stations, die_strokes, renewals
from monitor.figures.question import Question
from monitor.ledger import Snapshot
from monitor.plant.book import Book
from monitor.plant.carries import newest_reading_us
from monitor.plant.records import records
from monitor.reckoning.statistics.wear import due_in_s, economic_interval, wear_table
from shared.durations import DAY_US, SECOND_US
from shared.fields import count, time
from shared.figures import SHARPENING_PIECES, Figure

FIGURE = Figure(
    "service",
    row_per="die, station (history before the first entry is empty, never 0)",
    columns=columns(
        "die_id station",
        count("strokes_since_sharpening", "strokes", "since the last entry; empty before the first"),
        "sharpen_every_strokes",
        count("economic_interval", "strokes", "strokes at which scrap costs more than sharpening"),
        time("expected_due_at", "when the next sharpening falls due at the present rate"),
    ),
)

#: Days up to the moment asked for whose strokes give the present rate; common practice, no source.
RECENT_DAYS = 14


def service(question: Question) -> pd.DataFrame:
    """Return the `service` table for the range and filters asked."""
    return service_rows(
        question.snapshot,
        question.dated_book,
        rows_by_die=evidence_of(question),
        dies=question.dies,
        until_us=question.scope.to_us,
        sharpening_pieces=question.sharpening_pieces,
    )


def service_rows(
    snapshot: Snapshot,
    book: Book,
    rows_by_die: dict[str, pd.DataFrame],
    dies: Iterable[str],
    until_us: int | None,
    sharpening_pieces: float = SHARPENING_PIECES,
) -> pd.DataFrame:
    """Return a row for each station with an edge, as it stands at `until_us` [us], by default the newest reading.

    `book` is that of the day (see `Book.as_of`), `rows_by_die` are the inspections that say how the scrap rises with
    wear; `sharpening_pieces` is what a sharpening costs [rejected pieces].  Before the first entry the history of a
    station is not known.
    """
    services = records(snapshot.rows("die_service"))
    newest = newest_reading_us(snapshot)
    at_us = min(until_us, newest) if until_us is not None else newest
    rows: list[dict[str, object]] = []
    for die in dies:
        wear = _Wear(die, book, rows_by_die.get(die), sharpening_pieces)
        renewed = renewals(die, [row for row in services if row["time"] <= at_us], book)
        since_us = min([at_us - RECENT_DAYS * DAY_US, *(moments[-1] for moments in renewed.values())])
        rows += _stations(strokes_of(snapshot, book.calendar, die, since_us), renewed, at_us, wear)
    return pd.DataFrame(rows)


@dataclass(frozen=True)
class _Wear:
    """What is known of a die's wear: the inspections in range, and what a sharpening costs [rejected pieces]."""

    die_id: str
    book: Book
    rows: pd.DataFrame | None
    sharpening_pieces: float

    def interval(self, station: int, at_us: int) -> float:
        """Return the strokes at which the scrap this station can make costs more than a sharpening; NaN = not known."""
        die = self.book.page(self.book.day_of(at_us - 1)).dies.get(self.die_id)
        if self.rows is None or die is None:
            return np.nan
        mine = [c for c in causes_in(self.rows) if station in dict(making_stations(self.die_id, c, self.book))]
        rejected = self.rows[[FOUND + cause for cause in mine]].sum(axis=1).clip(upper=self.rows["inspected"])
        table = wear_table(worn(self.rows, [station]), self.rows["inspected"], rejected)
        return economic_interval(table, self.sharpening_pieces, len(die.outs)).strokes

    def entered(self) -> float:
        """Return the strokes between sharpenings that the plant book asks for; NaN = none."""
        rows = (row for row in self.book.tables["dies"] if row["die_id"] == self.die_id)
        asked = next((row["sharpen_every_strokes"] for row in rows), None)
        return np.nan if asked is None else float(asked)


def _stations(
    strokes: pd.DataFrame, renewed: Mapping[int, list[int]], at_us: int, wear: _Wear
) -> Iterator[dict[str, object]]:
    """Yield a row for each station of a die that cuts or was renewed."""
    entered = wear.entered()
    lately, seconds = _lately(strokes, at_us)
    for station in sorted({*cutting_stations(wear.die_id, wear.book), *renewed}):
        moments = renewed.get(station, [])[-1:]
        since = np.diff(die_strokes(strokes, np.array([*moments, at_us], dtype=np.int64)))
        strokes_since = float(since[0]) if since.size else np.nan
        economic = wear.interval(station, at_us) if moments else np.nan
        due_s = due_in_s(strokes_since, economic if np.isnan(entered) else entered, lately, seconds)
        due_us = None if np.isnan(due_s) else at_us + round(due_s) * SECOND_US
        yield {
            "die_id": wear.die_id,
            "station": station,
            "strokes_since_sharpening": np.round(strokes_since),
            "sharpen_every_strokes": entered,
            "economic_interval": np.round(economic),
            "expected_due_at": due_us,
        }


def _lately(strokes: pd.DataFrame, at_us: int) -> tuple[float, float]:
    """Return strokes with strip in the recent days and the seconds these took, standing included."""
    if strokes.empty:
        return 0.0, 0.0
    from_us = max(at_us - RECENT_DAYS * DAY_US, int(strokes["from_us"].min()))
    made = np.diff(die_strokes(strokes, np.array([from_us, at_us], dtype=np.int64)))
    return float(made[0]), (at_us - from_us) / SECOND_US
