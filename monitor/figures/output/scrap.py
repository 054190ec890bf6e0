"""The `scrap` table: rejected of inspected by cause, with intervals, where the denominator is known."""

from __future__ import annotations

import pandas as pd

from monitor.figures.columns import columns
from monitor.figures.material.mountings import described
from monitor.figures.question import Question
from monitor.reckoning.statistics.intervals import wilson
from shared.fields import flag, text
from shared.figures import Figure

FIGURE = Figure(
    "scrap",
    row_per="die, part, shift, coil, cause, kind of inspection",
    columns=columns(
        "shift_date shift press_id die_id part_no coil_id lot cause",
        text("kind", "kind of inspection", ("sample", "full", "tub")),
        "inspected rejected rate rate_low rate_high",
        flag("spread", "whether a tub count was split by pieces"),
    ),
)

CELL = ["shift_date", "shift", "press_id", "die_id", "part_no", "coil_id", "lot", "kind"]


def scrap(question: Question) -> pd.DataFrame:
    """Return the `scrap` table for the range and filters asked."""
    rejects = question.facts("rejects")
    named = ("mounting_id", set(rejects["mounting_id"]) - {""})
    known = described(question, question.snapshot.facts("mounts", where=named)).set_index("mounting_id")
    for column in ("coil_id", "lot"):
        rejects[column] = rejects["mounting_id"].map(known[column]).astype("object").fillna("").astype("str")
    return scrap_rows(rejects)


def scrap_rows(rejects: pd.DataFrame) -> pd.DataFrame:
    """Sum reject facts (with coil_id and lot) by cell and cause.

    A cell's denominator is all that its inspections looked at, whatever they found, and 0 is a count like another; for
    tub counts that is the pieces made in the span counted, not known where nobody can say which these were.  A cell
    without rejects keeps a row without a cause.
    """
    cells = rejects.groupby(CELL, sort=False, as_index=False).agg(
        inspected=("inspected", "sum"), spread=("spread", "max")
    )
    causes = rejects[(rejects["rejected"] > 0) | (rejects["reworked"] > 0)]
    found = causes.groupby([*CELL, "cause"], sort=False, as_index=False)["rejected"].sum()
    table = cells.merge(found, on=CELL, how="left")
    table["cause"] = table["cause"].fillna("")
    table["rejected"] = table["rejected"].fillna(0).astype("int64")
    return _with_rates(table)


def _with_rates(table: pd.DataFrame) -> pd.DataFrame:
    inspected, rejected = table["inspected"].to_numpy(), table["rejected"].to_numpy()
    known = (inspected > 0) & (rejected <= inspected)
    low, high = wilson(rejected.clip(max=inspected), inspected.clip(min=1))
    table["rate"] = pd.Series(rejected / inspected.clip(min=1), index=table.index).where(known)
    table["rate_low"] = pd.Series(low, index=table.index).where(known)
    table["rate_high"] = pd.Series(high, index=table.index).where(known)
    table["inspected"] = table["inspected"].astype("Int64").mask((table["kind"] == "tub") & (table["die_id"] == ""))
    table["spread"] = table["spread"].astype(bool)
    columns = [*CELL[:-1], "cause", "kind", "inspected", "rejected", "rate", "rate_low", "rate_high", "spread"]
    order = ["shift_date", "shift", "press_id", "die_id", "part_no", "coil_id", "kind", "cause"]
    return table.sort_values(order, kind="stable")[columns].reset_index(drop=True)
