"""Frames as plain HTML tables: words to the left, numbers to the right, long tables in a box of their own."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pandas as pd
from dash import html

MOST_ROWS = 400
"""Rows shown; a longer table says how many there are and where the rest is to be had."""


def table(rows: pd.DataFrame, words: Sequence[str], caption: str, all_rows: str = "") -> Any:
    """A table of the frame's columns as they are; `words` are the columns set to the left.

    `all_rows`: the command that gives every row, named where the table is cut.
    """
    looks = ["word" if column in words else "figure" for column in rows.columns]
    head = html.Tr(
        [html.Th(column, scope="col", className=look) for column, look in zip(rows.columns, looks, strict=True)]
    )
    body = [
        html.Tr(
            [
                html.Td(value, className=look, title=value if look == "word" else None)
                for value, look in zip(row, looks, strict=True)
            ]
        )
        for row in rows.head(MOST_ROWS).itertuples(index=False, name=None)
    ]
    cut = f" The first {MOST_ROWS} of {len(rows)}; all of them: {all_rows}" if len(rows) > MOST_ROWS else ""
    return html.Div(
        html.Table([html.Caption(f"{caption}{cut}"), html.Thead(head), html.Tbody(body)]),
        className="table-box",
        tabIndex=0,
    )
