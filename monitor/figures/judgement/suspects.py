"""The `suspects` table: what moves the scrap of each die and cause."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pandas as pd

from monitor.figures.bounds import typed
from monitor.figures.columns import columns
from monitor.figures.judgement.analysis import evidence_of, verdict_lines
from monitor.figures.question import Question
from monitor.reckoning.attribution.suspects import Suspect
from monitor.verdict.table import table_row
from shared.factors import FACTORS
from shared.fields import number, text
from shared.figures import Figure

FIGURE = Figure(
    "suspects",
    row_per="die, cause, factor, level",
    columns=columns(
        "die_id cause",
        text("factor", "what was compared", FACTORS),
        text("level", "which lot, press, shift and so on"),
        number("rate_ratio", "1", "how many times the rate", 0),
        number("ratio_low", "1", "lower end of the 95 % interval of the ratio", 0),
        number("ratio_high", "1", "upper end of the 95 % interval of the ratio", 0),
        number("pieces_explained", "pieces", "rejected pieces this level accounts for"),
        number("explained_low", "pieces", "lower end of the 95 % interval of the pieces explained"),
        number("explained_high", "pieces", "upper end of the 95 % interval of the pieces explained"),
        number("false_alarm", "1", "chance that the line is a false alarm, corrected for everything looked at", 0, 1),
        text("verdict", "what the data say", ("acts", "clear", "tied", "not_enough")),
        text("tied_with", "the factor and level the data cannot tell this one from"),
        text("stations", "stations whose operation can make the cause", listed=True),
        "inspected rejected",
        text("next_test", "what to run to tell them apart"),
    ),
)


def suspects(question: Question) -> pd.DataFrame:
    """Return the `suspects` table for the range and filters asked.

    All dies are looked at together, whichever is asked for, or a filter would change what counts as chance.
    """
    whole = replace(question, scope=replace(question.scope, die=None))
    lines = verdict_lines(evidence_of(whole), question.dated_book)
    return suspects_table(line for line in lines if line.die_id in question.dies)


def suspects_table(lines: Iterable[Suspect]) -> pd.DataFrame:
    """Return the `suspects` table of some lines, in their order."""
    return typed(FIGURE, pd.DataFrame([table_row(line) for line in lines], columns=list(FIGURE.names)))
