"""Looks at what moves scrap, with the inspections each was worked out from."""

from __future__ import annotations

import pandas as pd

from monitor.figures.bounds import typed
from monitor.figures.judgement import service
from monitor.figures.judgement.analysis import evidence_of, verdict_lines
from monitor.figures.judgement.bench import PlantLook
from monitor.figures.judgement.service import service_rows
from monitor.figures.question import question
from monitor.figures.scope import Bound, scope
from monitor.ledger import Snapshot
from monitor.plant.book import Book
from monitor.plant.records import records
from monitor.reckoning.attribution.suspects import Remembered


def evidence(snapshot: Snapshot, die: str, *, from_: Bound = None, to: Bound = None) -> tuple[pd.DataFrame, Book]:
    """Return the inspections of a die with all that could have moved its scrap (see `series`), and the plant book.

    Raises RequestError for a range that does not exist.
    """
    asked = question(snapshot, from_, to=to, die=die)
    return evidence_of(asked).get(die, pd.DataFrame()), asked.dated_book


def look(
    snapshot: Snapshot, *, from_: Bound = None, to: Bound = None, remembered: Remembered | None = None
) -> PlantLook:
    """Return what moves the scrap of every die and cause, with the inspections it was worked out from.

    With what was `remembered` of earlier looks only dies and causes with new inspections are worked out.
    Raises RequestError for a range that does not exist.
    """
    asked = question(snapshot, from_, to=to)
    rows = evidence_of(asked)
    return PlantLook(
        snapshot.version,
        from_ or None,
        to=to or None,
        book=asked.dated_book,
        rows=rows,
        lines=verdict_lines(rows, asked.dated_book, remembered),
        services=tuple(records(snapshot.rows("die_service"))),
    )


def station_service(snapshot: Snapshot, seen: PlantLook, die: str) -> pd.DataFrame:
    """Return the `service` table of one die from inspections that were looked at already."""
    until_us = scope(seen.book.calendar, None, seen.to).to_us
    return typed(service.FIGURE, service_rows(snapshot, seen.book, dict(seen.rows), [die], until_us))
