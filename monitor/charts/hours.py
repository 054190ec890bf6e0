"""Pieces hour by hour, with the rate while the press ran."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from monitor.charts.style import blank, dressed, palette
from shared.calendar import Calendar
from shared.durations import HOUR_S
from shared.words import ENGLISH, Words

MOST_BARS = 400
"""More hours than this are drawn as a line: a browser draws thousands of bars slowly."""

SHORTEST_RUN_S = 300.0
"""A rate over less running time than this [s] says nothing and is not drawn; common practice, no source."""

_HALF_HOUR = dt.timedelta(minutes=30)


def hours_chart(
    hours: pd.DataFrame,
    calendar: Calendar,
    rated_per_hour: float | None = None,
    dark: bool = False,
    words: Words = ENGLISH,
) -> go.Figure:
    """Draw pieces made in each clock hour: good, rejected and the rest (setting, rework).

    `hours`: rows of the figure table `hours`; several dies or parts are added up.  `rated_per_hour` [pieces/h]
    is drawn as a line.  Times are clock time of `calendar`, the plant's; an hour that happens twice in autumn stacks
    both.
    """
    if hours.empty:
        return blank(words.say("No strokes in this range."), dark)
    rows = _per_hour(hours, calendar)
    figure = go.Figure(_bars(rows, dark, words) if len(rows) <= MOST_BARS else [_line(rows, dark, words)])
    figure.add_trace(_running_rate(rows, dark, words))
    if rated_per_hour:
        figure.add_hline(
            y=rated_per_hour,
            line={"color": palette(dark).soft, "dash": "dash", "width": 1.5},
            annotation={"text": words.say("rated"), "font": {"color": palette(dark).soft}, "xanchor": "right"},
        )
    dressed(figure, dark, 340, words)
    figure.update_layout(barmode="stack")
    figure.update_yaxes(title_text=words.say("pieces per hour"), rangemode="tozero", tickformat=",")
    figure.update_xaxes(showgrid=False, tickformatstops=_ticks())
    return figure


def _per_hour(hours: pd.DataFrame, calendar: Calendar) -> pd.DataFrame:
    counts = ["running_s", "unresolved_s", "pieces", "rejected", "good"]
    rows = hours.groupby("hour_start", as_index=False)[counts].sum().astype(dict.fromkeys(counts, float))
    starts = [calendar.local_time(int(us)) for us in rows["hour_start"]]
    rows["told"] = [start.isoformat() for start in starts]
    rows["clock"] = [f"{start:%Y-%m-%dT%H:%M:%S}" for start in starts]
    rows["middle"] = [f"{start + _HALF_HOUR:%Y-%m-%dT%H:%M:%S}" for start in starts]
    rows["rest"] = (rows["pieces"] - rows["good"] - rows["rejected"]).clip(lower=0)
    timed = (rows["running_s"] >= SHORTEST_RUN_S) & (rows["unresolved_s"] == 0)
    rows["rate"] = np.where(timed, rows["pieces"] * HOUR_S / rows["running_s"].clip(lower=1), np.nan)
    # Pieces of an hour that nobody saw whole stand hatched: when in it they were made is not known.
    rows["unseen"] = rows["good"].where(rows["unresolved_s"] > 0, 0)
    rows["good"] -= rows["unseen"]
    return rows.sort_values(["clock", "hour_start"])


def _bars(rows: pd.DataFrame, dark: bool, words: Words) -> list[go.Bar]:
    colours = palette(dark)
    parts = (
        ("good", words.say("good"), colours.run, ""),
        ("unseen", words.say("good, hour not seen whole"), colours.run, "\\"),
        ("rest", words.say("setting, rework"), colours.edge, "/"),
        ("rejected", words.say("rejected"), colours.reject, ""),
    )
    return [
        go.Bar(
            x=rows["middle"],
            y=rows[column],
            name=name,
            marker={"color": colour, "line": {"width": 0}, "pattern": {"shape": shape, "fillmode": "replace"}},
            customdata=rows["told"],
            hovertemplate=f"%{{customdata}}<br>{name}: %{{y:,.0f}}<extra></extra>",
        )
        for column, name, colour, shape in parts
        if column == "good" or rows[column].gt(0).any()
    ]


def _line(rows: pd.DataFrame, dark: bool, words: Words) -> go.Scatter:
    return go.Scatter(
        x=rows["clock"],
        y=rows["pieces"],
        name=words.say("made"),
        mode="lines",
        line={"shape": "hv", "color": palette(dark).run, "width": 1.2},
        fill="tozeroy",
        customdata=rows["told"],
        hovertemplate=f"%{{customdata}}<br>{words.say('made')}: %{{y:,.0f}}<extra></extra>",
    )


def _running_rate(rows: pd.DataFrame, dark: bool, words: Words) -> go.Scatter:
    return go.Scatter(
        x=rows["middle"],
        y=rows["rate"],
        name=words.say("rate while running"),
        mode="markers",
        marker={"size": 6, "color": palette(dark).ink, "line": {"width": 1, "color": palette(dark).paper}},
        customdata=rows["told"],
        hovertemplate=f"%{{customdata}}<br>{words.say('rate while running')}: %{{y:,.0f}}<extra></extra>",
    )


def _ticks() -> list[dict[str, object]]:
    return [
        {"dtickrange": [None, 86_399_999], "value": "%H:%M\n%-d %b"},
        {"dtickrange": [86_400_000, None], "value": "%-d %b"},
    ]
