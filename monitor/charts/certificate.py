"""Certificate values and own tests against the scrap rate, a mark a coil."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd
import plotly.graph_objects as go

from monitor.charts.style import blank, dressed, palette, plain
from shared.words import ENGLISH, Words


def certificate_chart(coils: pd.DataFrame, name: str, dark: bool = False, words: Words = ENGLISH) -> go.Figure:
    """Draw the rate of each coil with its 95 % interval over one value of its certificate.

    `coils`: coil_id, lot, value [unit in `name`], inspected, rejected [pieces], rate, rate_low, rate_high [0 to 1],
    suspect (true for coils of the line that is looked at).
    """
    if coils.empty:
        return blank(words.say("No coil in this range has this value."), dark)
    colours = palette(dark)
    figure = go.Figure()
    groups = (
        (False, words.say("other coils"), "circle", colours.surface, colours.ink),
        (True, words.say("coils of the line chosen"), "diamond", colours.reject, colours.reject),
    )
    for suspect, label, symbol, fill, line in groups:
        part = coils[coils["suspect"] == suspect]
        if len(part):
            figure.add_trace(_points(part, label, symbol=symbol, fill=fill, line=line, words=words))
    dressed(figure, dark, 300)
    top = float(coils["rate_high"].max()) or 1.0
    top = min(top, 3 * float(coils["rate"].max()) or top)
    figure.update_xaxes(title_text=plain(name))
    figure.update_yaxes(title_text=words.say("scrap rate"), tickformat=",.2~%", range=[0, 1.06 * top])
    return figure


def _points(part: pd.DataFrame, label: str, symbol: str, fill: str, line: str, words: Words) -> go.Scatter:
    return go.Scatter(
        x=part["value"],
        y=part["rate"],
        error_y={
            "type": "data",
            "array": part["rate_high"] - part["rate"],
            "arrayminus": part["rate"] - part["rate_low"],
            "color": line,
            "thickness": 1.2,
            "width": 0,
        },
        mode="markers",
        name=label,
        marker={"size": 10, "symbol": symbol, "color": fill, "line": {"width": 2, "color": line}},
        customdata=[_hover(row, words) for row in part.to_dict("records")],
        hovertemplate="%{customdata}<extra></extra>",
    )


def _hover(row: Mapping[Hashable, Any], words: Words) -> str:
    return plain(
        words.say(
            "{coil}, lot {lot}: value {value}, rate {rate}, {rejected} of {inspected}",
            coil=row["coil_id"] or "?",
            lot=row["lot"] or "?",
            value=words.number(row["value"], 3).rstrip("0").rstrip(".,"),
            rate=words.per_cent(row["rate"], 2),
            rejected=words.number(row["rejected"]),
            inspected=words.number(row["inspected"]),
        )
    )
