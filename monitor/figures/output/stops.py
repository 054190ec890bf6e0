"""The `stops` table: a row for each stretch of a stop in one shift with one reason."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from monitor.figures.columns import columns
from monitor.figures.question import Question
from monitor.plant.carries import open_stops
from monitor.reckoning.press.stops import stop_name
from shared.durations import FOREVER_US, SECOND_US
from shared.fields import flag, identifier, number, text, time
from shared.figures import Figure

FIGURE = Figure(
    "stops",
    row_per="stop and shift (a stop over a shift change gives a row a shift, one stop_id)",
    columns=columns(
        identifier("stop_id", "one stop; the same on each of its rows"),
        "press_id die_id start_at",
        time("end_at", "when it ended"),
        number("seconds", "s", "how long the stop lasted in this shift", 0),
        "shift_date shift reason",
        text("kind", "kind of the reason"),
        flag("planned", "whether the stop is taken out of planned time"),
    ),
)

_SAME = ["stop_id", "shift_date", "shift", "reason", "kind", "planned"]


def stops(question: Question) -> pd.DataFrame:
    """Return the `stops` table for the range and filters asked."""
    return stop_rows(question.facts("stops"), _standing(question))


def _standing(question: Question) -> dict[str, int]:
    """Return the stops that the last carry of each press is still in, and up to when they were seen [us]."""
    return {stop_name(*start): seen_us for start, seen_us in open_stops(question.snapshot).items()}


def stop_rows(facts: pd.DataFrame, standing: Mapping[str, int]) -> pd.DataFrame:
    """Join stretches that follow one another; a stop in `standing` has no end yet at the moment [us] given there."""
    facts = facts.sort_values(["press_id", "stop_id", "from_us"], kind="stable").reset_index(drop=True)
    joined = _joined(facts)
    seen_us = [standing.get(stop_id, FOREVER_US) for stop_id in joined["stop_id"]]
    still = joined["to_us"].to_numpy(np.int64) >= np.array(seen_us, dtype=np.int64)
    ends = joined["to_us"].astype("Int64").mask(still)
    shown = joined[["stop_id", "press_id", "die_id"]].copy()
    shown["start_at"], shown["end_at"] = joined["from_us"], ends
    shown["seconds"] = (joined["to_us"] - joined["from_us"]) / SECOND_US
    for name in ("shift_date", "shift", "reason", "kind"):
        shown[name] = joined[name]
    shown["planned"] = joined["planned"].astype(bool)
    order = joined.sort_values(["from_us", "press_id"], kind="stable").index
    return shown.loc[order].reset_index(drop=True)


def _joined(facts: pd.DataFrame) -> pd.DataFrame:
    """Join stretches that a plant day cut apart."""
    follows = (facts[_SAME] == facts[_SAME].shift()).all(axis=1) & (facts["from_us"] == facts["to_us"].shift())
    return facts.groupby((~follows).cumsum(), sort=False).agg(
        {**dict.fromkeys((*_SAME, "press_id", "die_id", "from_us"), "first"), "to_us": "last"}
    )
