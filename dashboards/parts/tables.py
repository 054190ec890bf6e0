"""Frames as tables: words to the left, numbers to the right, long tables in a box of their own.

A table goes to the browser as data and is built there by `assets/tables.js`: a component a cell would take the
browser seconds.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import pandas as pd
from dash import html

from dashboards.parts.components import attributes
from dashboards.request.locale import say

MOST_ROWS = 1000
"""Rows shown; a longer table says how many there are and where the rest is to be had."""


def table(rows: pd.DataFrame, words: Sequence[str], caption: str, all_rows: str = "") -> Any:
    """A table of the frame's columns as they are; `words` are the columns set to the left.

    `all_rows`: the command that gives every row, named where the table is cut.
    """
    if len(rows) > MOST_ROWS:
        cut = say("The first {most} of {all}; all of them: {command}", most=MOST_ROWS, all=len(rows), command=all_rows)
        caption = f"{caption} {cut}"
    shown = {
        "caption": caption,
        "columns": list(rows.columns),
        "looks": ["word" if column in words else "figure" for column in rows.columns],
        "rows": rows.head(MOST_ROWS).to_numpy().tolist(),
    }
    return html.Div(className="table-box", tabIndex=0, **attributes(data_table=json.dumps(shown, ensure_ascii=False)))
