"""The `hours` table: output and time by clock hour."""

from __future__ import annotations

import pandas as pd

from monitor.figures.columns import columns
from monitor.figures.output.totals import HOUR, totals_of
from monitor.figures.question import Question
from shared.durations import SECOND_US
from shared.fields import time
from shared.figures import Figure

FIGURE = Figure(
    "hours",
    row_per="press, clock hour, die, part",
    columns=columns(
        time("hour_start", "start of the clock hour"),
        "press_id die_id part_no running_s unresolved_s strokes pieces rejected good",
    ),
)


def hours(question: Question) -> pd.DataFrame:
    """Return the `hours` table for the range and filters asked."""
    return hour_rows(totals_of(question, HOUR))


def hour_rows(table: pd.DataFrame) -> pd.DataFrame:
    """Turn totals by clock hour into the `hours` table."""
    shown = pd.DataFrame({"hour_start": table["hour_us"]})
    for name in HOUR[1:]:
        shown[name] = table[name]
    for name in ("running", "unresolved"):
        shown[f"{name}_s"] = table[f"{name}_us"] / SECOND_US
    for name in ("strokes", "pieces", "rejected", "good"):
        shown[name] = table[name]
    return shown
