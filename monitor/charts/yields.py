"""What part of the strip became good: a dot with its interval for each lot, supplier or die."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go

from monitor.charts.style import blank, dressed, label_rows, palette, plain
from shared.words import ENGLISH, THIN, Words

MOST = 14
"""Rows drawn, the worst first; the table beside the chart has all."""


def yields_chart(rows: pd.DataFrame, dark: bool = False, words: Words = ENGLISH) -> go.Figure:
    """Dots from the worst to the best.

    `rows`: name, of_possible, of_possible_low, of_possible_high (parts of one, missing where not known), coils.
    """
    known = rows[rows["of_possible"].notna()].sort_values("of_possible").head(MOST)
    if known.empty:
        return blank(words.say("No strip was used and weighed."), dark)
    colours = palette(dark)
    at = list(range(len(known)))
    share = 100 * known["of_possible"]
    low, high = (100 * known[name] for name in ("of_possible_low", "of_possible_high"))
    figure = go.Figure(
        go.Scatter(
            x=share.tolist(),
            y=at,
            mode="markers",
            marker={"size": 12, "color": colours.run, "line": {"color": colours.paper, "width": 1.5}},
            error_x={
                "array": (high - share).fillna(0).tolist(),
                "arrayminus": (share - low).fillna(0).tolist(),
                "color": colours.run,
                "thickness": 2.5,
                "width": 0,
            },
            customdata=[plain(name) for name in known["name"]],
            hovertemplate=f"%{{customdata}}: %{{x:.2f}}{THIN}%<extra></extra>",
        )
    )
    dressed(figure, dark, 66 + 44 * len(known), words)
    named = zip(known["name"].astype(str), share, known["coils"], strict=True)
    label_rows(figure, [(n, f"{words.per_cent(part / 100, 2)} · {int(coils)}") for n, part, coils in named], dark)
    figure.update_xaxes(ticksuffix=f"{THIN}%", nticks=5)
    return figure
