"""Scrap rate coil by coil in the order run: intervals, limits, what wear alone would give, lots and what happened."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from monitor.charts.style import blank, dressed, palette, plain, shorten, tint
from shared.words import ENGLISH, Words

MOST_NAMES = 24
"""Coils named on the axis; of more every second, third … is."""

CROWDED = 150
"""Coils from which on marks are small and intervals faint, so that those beyond the limits still stand out."""

_SYMBOLS = ("circle", "square", "diamond", "triangle-up", "pentagon", "hexagon")
_BLOCKS = ("", "/", ".", "\\", "-", "x")
_RATES, _EVENTS, _LOTS = (0.27, 1.0), (0.115, 0.235), (0.0, 0.085)


def coil_rates_chart(
    coils: pd.DataFrame,
    marks: pd.DataFrame,
    alarms: pd.DataFrame,
    changes: pd.DataFrame,
    dark: bool = False,
    words: Words = ENGLISH,
) -> go.Figure:
    """Draw the rate of each coil with its 95 % interval in the order run, lots below it and events between.

    `coils`: coil_id, lot, press_id, inspected, rejected [pieces], rate, rate_low, rate_high, wear_rate, usual,
    limit_low, limit_high [0 to 1], outside; one row a stay on a press.  `marks`: place, kind (sharpened, set), told;
    `alarms`: place, told; `changes`: place, place_low, place_high, told; places count coils from 0.
    """
    if coils.empty:
        return blank(words.say("Nobody has looked for this cause in this range."), dark)
    figure = go.Figure()
    for trace in (*_bounds(coils, dark, words), *_rates(coils, dark, words), _blocks(coils, dark)):
        figure.add_trace(trace)
    for trace in _events(marks, alarms, changes, dark, words):
        figure.add_trace(trace)
    dressed(figure, dark, 470)
    _span_changes(figure, changes, dark)
    _axes(figure, coils, words)
    return figure


def _bounds(coils: pd.DataFrame, dark: bool, words: Words) -> list[go.Scatter]:
    """Limits, the usual rate, and what wear alone would give, as steps from coil to coil."""
    colours = palette(dark)
    lines = [
        (
            "limit_high",
            words.say("limits, 3 standard deviations"),
            {"color": colours.soft, "width": 1.5, "dash": "dot"},
        ),
        ("limit_low", "", {"color": colours.soft, "width": 1.5, "dash": "dot"}),
        ("usual", words.say("usual rate"), {"color": colours.edge, "width": 1.5}),
        ("wear_rate", words.say("what wear alone would give"), {"color": colours.run, "width": 3, "dash": "dash"}),
    ]
    return [
        go.Scatter(
            x=_edges(len(coils)),
            y=np.repeat(coils[column].to_numpy(np.float64), 2),
            mode="lines",
            line=line,
            name=name,
            showlegend=bool(name),
            hoverinfo="skip",
            connectgaps=False,
        )
        for column, name, line in lines
        if coils[column].notna().any()
    ]


def _edges(coils: int) -> np.ndarray:
    edges: np.ndarray = np.repeat(np.arange(coils), 2) + np.tile([-0.5, 0.5], coils)
    return edges


def _rates(coils: pd.DataFrame, dark: bool, words: Words) -> list[go.Scatter]:
    """A mark a coil, its shape that of its lot; filled where it lies beyond the limits."""
    colours, crowded = palette(dark), len(coils) >= CROWDED
    lots = lot_numbers(coils)
    groups = (
        (False, words.say("coil with its 95 % interval"), colours.surface, colours.soft if crowded else colours.ink),
        (True, words.say("coil beyond the limits"), colours.reject, colours.reject),
    )
    return [
        go.Scatter(
            x=part.index,
            y=part["rate"],
            error_y={
                "type": "data",
                "array": part["rate_high"] - part["rate"],
                "arrayminus": part["rate"] - part["rate_low"],
                "color": tint(line, colours.paper) if crowded and not outside else line,
                "thickness": 0.8 if crowded else 1.5,
                "width": 0 if crowded else 2,
            },
            mode="markers",
            name=name,
            marker={
                "size": 6 if crowded else 11,
                "symbol": [_SYMBOLS[lots[at] % len(_SYMBOLS)] for at in part.index],
                "color": fill,
                "line": {"width": 1 if crowded else 2, "color": line},
            },
            customdata=[_hover(row, words) for row in part.to_dict("records")],
            hovertemplate="%{customdata}<extra></extra>",
        )
        for outside, name, fill, line in groups
        if len(part := coils[coils["outside"] == outside])
    ]


def lot_numbers(coils: pd.DataFrame) -> np.ndarray:
    """Number of the block of one lot that each coil belongs to, counted from 0 along the order run."""
    changed = (coils["lot"] != coils["lot"].shift()).to_numpy()
    numbers: np.ndarray = np.cumsum(changed) - 1
    return numbers


def lot_blocks(coils: pd.DataFrame) -> pd.DataFrame:
    """A row for each run of coils of one lot: lot, first, last (places)."""
    table = coils.assign(at=np.arange(len(coils)), block=lot_numbers(coils))
    return table.groupby("block", sort=True).agg(lot=("lot", "first"), first=("at", "min"), last=("at", "max"))


def _blocks(coils: pd.DataFrame, dark: bool) -> go.Bar:
    """The lots as blocks below the coils, each with its name and a pattern other than its neighbours'."""
    colours = palette(dark)
    blocks = lot_blocks(coils)
    names = [plain(lot) or "?" for lot in blocks["lot"]]
    return go.Bar(
        x=(blocks["first"] + blocks["last"]) / 2,
        y=[1] * len(blocks),
        width=blocks["last"] - blocks["first"] + 1,
        yaxis="y3",
        text=names,
        textposition="inside",
        insidetextanchor="middle",
        textangle=0,
        textfont={"color": colours.ink, "size": 13},
        marker={
            "color": colours.steel,
            "line": {"color": colours.surface, "width": 1.5 if len(blocks) < CROWDED else 0.0},
            "pattern": {
                "shape": [_BLOCKS[number % len(_BLOCKS)] for number in range(len(blocks))],
                "fillmode": "replace",
                "fgcolor": colours.edge,
                "bgcolor": colours.steel,
                "size": 9,
                "solidity": 0.12,
            },
        },
        hovertemplate="%{text}<extra></extra>",
        showlegend=False,
    )


def _events(
    marks: pd.DataFrame, alarms: pd.DataFrame, changes: pd.DataFrame, dark: bool, words: Words
) -> list[go.Scatter]:
    colours = palette(dark)
    kinds = (
        (marks[marks["kind"] == "sharpened"], words.say("sharpened"), "triangle-up", colours.run, 0.0),
        (marks[marks["kind"] == "set"], words.say("die set"), "square-open", colours.ink, 0.0),
        (alarms, words.say("the watch calls"), "x", colours.reject, 1.0),
        (changes, words.say("level changed, with its interval"), "line-ns-open", colours.reject, 1.0),
    )
    return [
        go.Scatter(
            x=table["place"],
            y=[height] * len(table),
            yaxis="y2",
            mode="markers",
            name=name,
            cliponaxis=False,
            marker={
                "symbol": symbol,
                "size": 12 if len(table) < MOST_NAMES else 7,
                "color": colour,
                "line": {"width": 2, "color": colour},
            },
            customdata=[plain(told) for told in table["told"]],
            hovertemplate="%{customdata}<extra></extra>",
        )
        for table, name, symbol, colour, height in kinds
        if len(table)
    ]


def _span_changes(figure: go.Figure, changes: pd.DataFrame, dark: bool) -> None:
    """A line where the level changed, and the stretch in which it may have changed."""
    colour = palette(dark).reject
    for row in changes.to_dict("records"):
        place = {"yref": "paper", "y0": _EVENTS[0], "y1": 1, "layer": "below"}
        span = {"x0": row["place_low"], "x1": row["place_high"]}
        figure.add_shape(type="rect", fillcolor=colour, opacity=0.16, line_width=0, **span, **place)
        figure.add_shape(
            type="line",
            x0=row["place"],
            x1=row["place"],
            line={"color": colour, "width": 1.5, "dash": "dashdot"},
            **place,
        )


def _axes(figure: go.Figure, coils: pd.DataFrame, words: Words) -> None:
    every = -(-len(coils) // MOST_NAMES)
    at = list(range(0, len(coils), every))
    names = [plain(shorten(str(coils["coil_id"].iloc[place]) or "?", 14)) for place in at]
    below = words.say("coils in the order run;\nbelow the rates what happened, and the lots")
    figure.update_xaxes(
        tickvals=at,
        ticktext=names,
        tickangle=-60,
        range=[-0.7, len(coils) - 0.3],
        showgrid=False,
        anchor="y3",
        title_text=below.replace("\n", "<br>"),
    )
    top = float(max(coils["rate_high"].max(), coils["limit_high"].max())) or 1.0
    top = min(top, 3 * float(coils["rate"].max()) or top)
    figure.update_yaxes(title_text=words.say("scrap rate"), tickformat=",.2~%", range=[0, 1.06 * top], domain=_RATES)
    bare = {"showticklabels": False, "showgrid": False, "zeroline": False, "fixedrange": True}
    figure.update_layout(
        yaxis2={"domain": _EVENTS, "range": [-0.6, 1.6], "anchor": "x", **bare},
        yaxis3={"domain": _LOTS, "range": [0, 1], "anchor": "x", **bare},
        uniformtext={"minsize": 11, "mode": "hide"},
        bargap=0,
    )


def _hover(row: Mapping[Hashable, Any], words: Words) -> str:
    told = words.say(
        "{coil}, lot {lot}, press {press}: {rate}, {rejected} of {inspected}",
        coil=row["coil_id"] or "?",
        lot=row["lot"] or "?",
        press=row["press_id"],
        rate=words.per_cent(row["rate"], 2),
        rejected=words.number(row["rejected"]),
        inspected=words.number(row["inspected"]),
    )
    between = words.say(
        "95 % interval {low} to {high}",
        low=words.per_cent(row["rate_low"], 2),
        high=words.per_cent(row["rate_high"], 2),
    )
    return f"{plain(told)}<br>{plain(between)}"
