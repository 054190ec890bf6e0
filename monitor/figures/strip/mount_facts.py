"""Mount facts of coils, over all that their strip went through, and of strip of no known coil, in a range only."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection

import pandas as pd

from monitor.ledger import Snapshot

_STRETCH = ["press_id", "out", "from_us", "stroke_from"]

Dates = tuple[dt.date | None, dt.date | None]


def mounts_of(snapshot: Snapshot, coils: Collection[str], mountings: Collection[str] = ()) -> pd.DataFrame:
    """Return all mount facts of some coils, and of some mountings.

    What was used of a coil that came and went within a day bears the mounting's name alone.
    """
    named = snapshot.facts("mounts", where=("coil_id", set(coils) - {""}))
    return snapshot.facts("mounts", where=("mounting_id", {*named["mounting_id"], *mountings} - {""}))


def of_no_coil(snapshot: Snapshot, dates: Dates, press: str | None) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the pieces made of strip of no known coil in folds of days [first, after), and the rejects among them."""
    nameless = ("mounting_id", [""])
    pieces = snapshot.facts("pieces", folded=dates, press_id=press, where=nameless)
    # A fold also holds what was made before its day began and read after.
    since = None if dates[0] is None else dates[0] - dt.timedelta(days=2)
    rejects = snapshot.facts("rejects", from_date=since, press_id=press, where=nameless)
    return pieces, rejects.merge(pieces[_STRETCH].drop_duplicates(), on=_STRETCH)
