"""Scrap rate over strokes since sharpening, with its band, and where a sharpening is due or pays."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from monitor.charts.style import blank, dressed, palette, plain
from shared.words import ENGLISH, Words


def wear_chart(
    bins: pd.DataFrame,
    bounds: Sequence[tuple[str, float, str]] = (),
    dark: bool = False,
    words: Words = ENGLISH,
) -> go.Figure:
    """Draw the rate of each bin of strokes since sharpening as a step, its 95 % interval as a band.

    `bins`: strokes_from, strokes_to [strokes], inspected, rejected [pieces], rate, rate_low, rate_high [0 to 1], in
    order.  `bounds`: name, strokes and dash of lines across, such as the interval of the plant book.
    """
    known = bins[bins["inspected"] > 0].reset_index(drop=True)
    if known.empty:
        return blank(words.say("No sharpening has been entered for a station that can make this."), dark)
    figure = go.Figure([*_band(known, dark, words), _steps(known, dark, words)])
    for name, strokes, dash in bounds:
        figure.add_trace(_bound(name, strokes, dash, float(known["rate_high"].max()), dark))
    dressed(figure, dark, 340)
    figure.update_xaxes(title_text=words.say("strokes since sharpening"), tickformat=",", rangemode="tozero")
    figure.update_yaxes(title_text=words.say("scrap rate"), tickformat=",.2~%", rangemode="tozero")
    return figure


def _corners(known: pd.DataFrame) -> np.ndarray:
    return known[["strokes_from", "strokes_to"]].to_numpy(np.float64).ravel()


def _band(known: pd.DataFrame, dark: bool, words: Words) -> list[go.Scatter]:
    edge = {"mode": "lines", "line": {"width": 0}, "hoverinfo": "skip", "x": _corners(known)}
    return [
        go.Scatter(y=np.repeat(known["rate_low"], 2), showlegend=False, **edge),
        go.Scatter(
            y=np.repeat(known["rate_high"], 2),
            fill="tonexty",
            fillcolor=palette(dark).rule,
            name=words.say("95 % interval"),
            **edge,
        ),
    ]


def _steps(known: pd.DataFrame, dark: bool, words: Words) -> go.Scatter:
    told = [
        plain(
            words.say(
                "{from_} to {to} strokes: {rate}, {rejected} of {inspected}",
                from_=words.number(row["strokes_from"]),
                to=words.number(row["strokes_to"]),
                rate=words.per_cent(row["rate"], 2),
                rejected=words.number(row["rejected"]),
                inspected=words.number(row["inspected"]),
            )
        )
        for row in known.to_dict("records")
    ]
    return go.Scatter(
        x=_corners(known),
        y=np.repeat(known["rate"], 2),
        mode="lines",
        line={"color": palette(dark).run, "width": 3},
        name=words.say("scrap rate"),
        customdata=np.repeat(told, 2),
        hovertemplate="%{customdata}<extra></extra>",
    )


def _bound(name: str, strokes: float, dash: str, top: float, dark: bool) -> go.Scatter:
    return go.Scatter(
        x=[strokes, strokes],
        y=[0, top],
        mode="lines",
        line={"color": palette(dark).ink, "width": 2, "dash": dash},
        name=plain(name),
        hovertemplate=f"{plain(name)}<extra></extra>",
    )
