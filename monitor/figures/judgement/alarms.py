"""Spikes of scrap that a watch of the inspections calls within the shift, die by die and cause by cause."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache

import numpy as np
import numpy.typing as npt
import pandas as pd

from monitor.ledger import Snapshot
from monitor.reckoning.statistics.cusum import cusum
from shared.durations import DAY_US

Floats = npt.NDArray[np.float64]

#: Days of inspections that say what is settled, and the fewest of them; common practice, no source.
SETTLED_DAYS = 28
LEAST_LOOKS = 20


COLUMNS = ("press_id", "die_id", "cause", "at_us", "rejected", "inspected", "usual")


def alarms(snapshot: Snapshot, since: dt.date, since_us: int, until_us: int) -> pd.DataFrame:
    """Return the alarms that were called over pieces made in [since_us, until_us) [us], the newest first.

    Columns: press_id, die_id, cause, at_us (the piece looked at last when it was called), rejected and inspected
    [pieces] of all inspections in that time, usual (settled rate [1], of the days before).  `since` is
    the plant day of `since_us`.  Tub counts speak for no inspection and are left out, and so are looks that
    found more bad pieces than they looked at.
    """
    last = since + dt.timedelta(days=2 + (until_us - since_us) // DAY_US)
    rejects = snapshot.facts("rejects", from_date=since - dt.timedelta(days=SETTLED_DAYS), to_date=last)
    rejects = rejects[(rejects["kind"] != "tub") & (rejects["to_us"] < until_us) & (rejects["setup"] == 0)]
    looks = rejects.groupby(["die_id", "inspection_id"], as_index=False).agg(
        inspected=("inspected", "sum"), bad=("rejected", "sum"), at_us=("to_us", "max"), press_id=("press_id", "last")
    )
    found = rejects[rejects["rejected"] > 0].groupby(["die_id", "cause", "inspection_id"])["rejected"].sum()
    rows = []
    known = (looks["inspected"] > 0) & (looks["bad"] <= looks["inspected"])
    for die_id, mine in looks[known].groupby("die_id"):
        mine = mine.sort_values(["at_us", "inspection_id"])
        for cause in _causes_since(rejects, str(die_id), since_us):
            counts = found[die_id, cause].reindex(mine["inspection_id"]).fillna(0).to_numpy(np.float64)
            row = _called(mine, counts, since_us)
            if row is not None:
                rows.append({"die_id": die_id, "cause": cause, **row})
    table = pd.DataFrame(rows, columns=list(COLUMNS))
    return table.sort_values(["at_us", "die_id", "cause"], ascending=[False, True, True], ignore_index=True)


def _causes_since(rejects: pd.DataFrame, die_id: str, since_us: int) -> list[str]:
    """Return the causes found lately: nothing else can set off a watch now."""
    lately = rejects[(rejects["die_id"] == die_id) & (rejects["to_us"] >= since_us) & (rejects["rejected"] > 0)]
    return sorted(set(lately["cause"]) - {""})


def _called(looks: pd.DataFrame, rejected: Floats, since_us: int) -> dict[str, object] | None:
    """Return the last alarm since a moment, None where there is none or too little to go by."""
    inspected, at_us = looks["inspected"].to_numpy(np.float64), looks["at_us"].to_numpy(np.int64)
    settled = at_us < since_us
    usual = float(rejected[settled].sum() / max(1.0, inspected[settled].sum()))
    if settled.sum() < LEAST_LOOKS or usual <= 0:
        return None
    expected = inspected * usual
    spread = _spread(rejected[settled], expected[settled])
    limit = _limit(float(f"{np.mean(expected / spread):.2g}"))
    watch = cusum(rejected / spread, expected / spread, limit=limit)
    called = np.flatnonzero(watch.signals & ~settled)
    if not called.size:
        return None
    last = int(called[-1])
    return {
        "press_id": str(looks["press_id"].iloc[last]),
        "at_us": int(at_us[last]),
        "rejected": int(rejected[~settled].sum()),
        "inspected": int(inspected[~settled].sum()),
        "usual": usual,
    }


@lru_cache(maxsize=1024)
def _limit(expected: float) -> float:
    """Return the limit of the watch at so many pieces expected an inspection; worked out once, for it takes a while."""
    return cusum([0.0], [expected]).limit


def _spread(rejected: Floats, expected: Floats) -> float:
    """Return how many times chance the settled inspections scatter, at least 1."""
    return max(1.0, float(np.mean((rejected - expected) ** 2 / np.maximum(expected, 1e-9))))
