"""The `loads` table: what became of the rows of every file."""

from __future__ import annotations

import pandas as pd

from monitor.figures.columns import columns
from monitor.figures.question import Question
from shared.fields import count, text, time
from shared.figures import ClosingSum, Figure

FIGURE = Figure(
    "loads",
    row_per="file loaded",
    columns=columns(
        count("load_id", "", "number of the load"),
        "file table",
        count("rows", "rows", "rows in the file"),
        count("outside", "rows", "rows a profile leaves out"),
        count("read", "rows", "rows read"),
        count("new", "rows", "rows that were new"),
        count("repeated", "rows", "rows that were there already"),
        count("corrected", "rows", "rows that replaced an earlier one"),
        count("set_aside", "rows", "rows set aside"),
        time("loaded_at", "when it was loaded"),
        text("refused", "why the file was refused; empty = taken"),
        text("code", "kind of the refusal, such as no_rows; empty = taken"),
        text("values", "what the refusal names: a list in JSON with one object"),
    ),
    closes=(
        ClosingSum("read", ("new", "repeated", "corrected", "set_aside")),
        ClosingSum("rows", ("read", "outside")),
    ),
)


def loads(question: Question) -> pd.DataFrame:
    """Return a row for each file; read = new + repeated + corrected + set aside.

    A counter reading that reckoning found to be a glitch was taken as new and counts as set aside.
    """
    snapshot = question.snapshot
    table = snapshot.loads()
    glitches = table["load_id"].map(snapshot.facts("glitches").groupby("load_id").size()).fillna(0).astype("int64")
    table["set_aside"] += glitches
    for name in ("new", "corrected", "repeated"):
        # Most are the first word on their moment; one that corrected another reading counts as such.
        taken = glitches.clip(upper=table[name])
        table[name], glitches = table[name] - taken, glitches - taken
    return table
