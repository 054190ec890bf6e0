"""Strokes of a die as far back as they matter: since some moment stretch by stretch, all before it in one row."""

from __future__ import annotations

import datetime as dt

import pandas as pd

from monitor.ledger import Snapshot
from shared.calendar import Calendar

_DAY = dt.timedelta(days=1)


def strokes_of(
    snapshot: Snapshot, calendar: Calendar, die_id: str, since_us: int | None = None, until: dt.date | None = None
) -> pd.DataFrame:
    """Return the stroke facts of a die, those long before `since_us` [us] summed up in a first row of no press.

    So every count of strokes up to a moment after it is what it is with the whole history, at a cost that does not
    grow with it.  `until` is the shift date at which they end.
    """
    if since_us is None:
        return snapshot.facts("strokes", die_id=die_id, to_date=until)
    since = calendar.plant_day(since_us) - _DAY
    rows = snapshot.facts("strokes", die_id=die_id, from_date=since, to_date=until)
    before = snapshot.fed_before(die_id, since)
    if not before:
        return rows
    at_us = calendar.day_start_us(since)
    known: dict[object, object] = {"fed": before, "strokes": before, "from_us": at_us, "to_us": at_us}
    first = [known.get(name, 0 if pd.api.types.is_numeric_dtype(kind) else "") for name, kind in rows.dtypes.items()]
    early = pd.DataFrame([first], columns=rows.columns).astype(rows.dtypes.to_dict())
    return pd.concat([early, rows], ignore_index=True)
