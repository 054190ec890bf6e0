"""Scrap rates with their doubt: a dot, its interval, and the count behind it."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd
import plotly.graph_objects as go

from monitor.charts.style import blank, dressed, label_rows, palette, plain
from shared.words import ENGLISH, Words

MOST_CAUSES = 20
"""Causes drawn, the most frequent first; the table beside the chart holds all."""


def rates_chart(causes: pd.DataFrame, dark: bool = False, words: Words = ENGLISH) -> go.Figure:
    """Draw the scrap rate of each cause with its interval; samples, which are estimates, with an open dot.

    `causes`: label, estimate (true for samples), rejected, inspected [pieces], rate, rate_low, rate_high
    [0 to 1]; rows without a rate are left out.
    """
    known = causes[causes["rate"].notna()]
    if known.empty:
        return blank(words.say("No inspection with a known number of pieces in this range."), dark)
    rows = known.sort_values(["rate", "label"], ascending=[False, True]).head(MOST_CAUSES).reset_index(drop=True)
    figure = dressed(go.Figure([_intervals(rows, dark), *_dots(rows, dark, words)]), dark, 110 + 48 * len(rows), words)
    label_rows(figure, [(row["label"], _value(row, words)) for row in rows.to_dict("records")], dark)
    top = float(rows["rate_high"].max()) or 1.0
    figure.update_xaxes(title_text=words.say("scrap rate"), tickformat=",.2~%", range=[-0.02 * top, 1.05 * top])
    return figure


def _intervals(rows: pd.DataFrame, dark: bool) -> go.Scatter:
    ends = rows[["rate_low", "rate_high"]].assign(gap=None).to_numpy().ravel()
    places = [place for index in rows.index for place in (index, index, None)]
    return go.Scatter(
        x=ends,
        y=places,
        mode="lines",
        line={"color": palette(dark).ink, "width": 2},
        hoverinfo="skip",
        showlegend=False,
    )


def _dots(rows: pd.DataFrame, dark: bool, words: Words) -> list[go.Scatter]:
    colours = palette(dark)
    groups = (
        (False, words.say("every piece looked at, or counted out of the tub"), colours.reject),
        (True, words.say("sample: an estimate"), colours.surface),
    )
    return [
        go.Scatter(
            x=part["rate"],
            y=part.index,
            name=name,
            mode="markers",
            marker={"size": 13, "color": fill, "line": {"width": 2.5, "color": colours.reject}},
            customdata=[_hover(row, words) for row in part.to_dict("records")],
            hovertemplate="%{customdata}<extra></extra>",
        )
        for estimate, name, fill in groups
        if len(part := rows[rows["estimate"] == estimate])
    ]


def _value(row: Mapping[Hashable, Any], words: Words) -> str:
    looked = words.say("{n} of {all}", n=words.number(row["rejected"]), all=words.number(row["inspected"]))
    return f"{words.per_cent(row['rate'], 2)} · {looked}"


def _hover(row: Mapping[Hashable, Any], words: Words) -> str:
    low, high = (words.per_cent(row[end], 2) for end in ("rate_low", "rate_high"))
    return f"{plain(row['label'])}: {_value(row, words)}<br>{words.say('{low} to {high}', low=low, high=high)}"
