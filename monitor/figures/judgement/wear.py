"""The `wear` table: rejects of each die and cause by strokes since sharpening of its edge."""

from __future__ import annotations

import pandas as pd

from monitor.figures.columns import columns
from monitor.figures.judgement.analysis import causes_in, evidence_of, making_stations, wear_of
from monitor.figures.question import Question
from monitor.plant.book import Book
from monitor.reckoning.statistics.wear import WearTable
from shared.fields import count
from shared.figures import Figure

FIGURE = Figure(
    "wear",
    row_per="die, cause, bin of strokes since sharpening",
    columns=columns(
        "die_id cause",
        count("strokes_from", "strokes", "start of the bin, included"),
        count("strokes_to", "strokes", "end of the bin, not included"),
        "inspected rejected rate rate_low rate_high",
    ),
)


def wear(question: Question) -> pd.DataFrame:
    """Return the `wear` table for the range and filters asked."""
    return wear_rows(evidence_of(question), question.dated_book)


def wear_rows(rows_by_die: dict[str, pd.DataFrame], book: Book) -> pd.DataFrame:
    """Return the `wear` table: rejects of each die and cause by strokes since sharpening of its edge."""
    tables = [
        _rows(die, cause, wear_of(rows, cause, [number for number, _ in making_stations(die, cause, book)]))
        for die, rows in rows_by_die.items()
        for cause in causes_in(rows)
    ]
    return pd.concat([table for table in tables if not table.empty] or [pd.DataFrame()], ignore_index=True)


def _rows(die_id: str, cause: str, table: WearTable) -> pd.DataFrame:
    names = ("strokes_from", "strokes_to", "inspected", "rejected", "rate", "rate_low", "rate_high")
    rows = pd.DataFrame({name: getattr(table, name) for name in names})
    return rows[rows["inspected"] > 0].assign(die_id=die_id, cause=cause)
