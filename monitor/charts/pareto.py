"""Standing time by reason, the longest first."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd
import plotly.graph_objects as go

from monitor.charts.style import PATTERNS, blank, dressed, fill, kind_of, label_rows, palette, plain
from shared.words import ENGLISH, Words

MOST_REASONS = 12
"""Reasons drawn one by one; the rest is one bar, so that nothing is left out."""


def pareto_chart(reasons: pd.DataFrame, dark: bool = False, words: Words = ENGLISH) -> go.Figure:
    """Draw one bar a reason with its minutes and how often it came.

    `reasons`: reason, kind, count, minutes [min]; one row a reason, any order.
    """
    if reasons.empty:
        return blank(words.say("The press did not stand in this range."), dark)
    rows = _longest(reasons, words)
    kinds = [kind_of(kind) for kind in rows["kind"]]
    values = [_value(row, words) for row in rows.to_dict("records")]
    bar = go.Bar(
        x=rows["minutes"],
        y=list(range(len(rows))),
        orientation="h",
        width=0.42,
        marker=fill([palette(dark).kinds[kind] for kind in kinds], [PATTERNS[kind] for kind in kinds], dark),
        customdata=[f"{plain(reason)}: {value}" for reason, value in zip(rows["reason"], values, strict=True)],
        hovertemplate="%{customdata}<extra></extra>",
    )
    figure = dressed(go.Figure(bar), dark, 60 + 48 * len(rows), words)
    label_rows(figure, list(zip(rows["reason"], values, strict=True)), dark)
    figure.update_xaxes(title_text=words.say("minutes"), rangemode="tozero", tickformat=",")
    return figure


def _longest(reasons: pd.DataFrame, words: Words) -> pd.DataFrame:
    rows = reasons.sort_values(["minutes", "reason"], ascending=[False, True])
    if len(rows) <= MOST_REASONS:
        return rows
    rest = rows.iloc[MOST_REASONS - 1 :]
    last = pd.DataFrame(
        {
            "reason": [words.say_n(len(rest), "{n} other reason", "{n} other reasons")],
            "kind": ["other"],
            "count": [rest["count"].sum()],
            "minutes": [rest["minutes"].sum()],
        }
    )
    return pd.concat([rows.iloc[: MOST_REASONS - 1], last], ignore_index=True)


def _value(row: Mapping[Hashable, Any], words: Words) -> str:
    return f"{words.number(row['minutes'])} min · {row['count']}×"
