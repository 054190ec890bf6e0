"""Where the strip went: from what was received down to the difference nobody can name."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go

from monitor.charts.style import blank, dressed, fill, label_rows, palette, plain
from shared.words import ENGLISH, Words

_LOOKS = {
    "received": ("steel", ""),
    "good": ("run", ""),
    "skeleton": ("edge", "/"),
    "remaining": ("edge", "."),
    "difference": ("loud", ""),
}
_LOSS = ("reject", "\\")


def waterfall_chart(losses: pd.DataFrame, dark: bool = False, words: Words = ENGLISH, unit: str = "kg") -> go.Figure:
    """Draw each part of the received weight [unit] where the one before it ended, the last one signed.

    `losses`: part (received first, then what it went into, `difference` last), label, kg; the parts after the
    first add up to it.  A negative part is drawn to the right of where it starts.
    """
    if losses.empty or not losses["kg"].iloc[0] > 0:
        return blank(words.say("No coil with a known weight in this range."), dark)
    received = float(losses["kg"].iloc[0])
    looks = [_LOOKS.get(part, _LOSS) for part in losses["part"]]
    values = [f"{words.number(kg, 1)} {unit}, {words.per_cent(kg / received)}" for kg in losses["kg"]]
    bar = go.Bar(
        x=losses["kg"],
        y=list(range(len(losses))),
        base=_starts(losses),
        orientation="h",
        width=0.42,
        marker=fill([getattr(palette(dark), name) for name, _ in looks], [shape for _, shape in looks], dark),
        customdata=[f"{plain(label)}: {value}" for label, value in zip(losses["label"], values, strict=True)],
        hovertemplate="%{customdata}<extra></extra>",
    )
    figure = dressed(go.Figure(bar), dark, 60 + 48 * len(losses), words)
    label_rows(figure, list(zip(losses["label"], values, strict=True)), dark)
    _steps(figure, losses, dark)
    figure.update_xaxes(title_text=unit, range=_range(losses, received), tickformat=",")
    return figure


def _starts(losses: pd.DataFrame) -> list[float]:
    left = float(losses["kg"].iloc[0])
    starts = [0.0]
    for kg in losses["kg"].iloc[1:]:
        left -= float(kg)
        starts.append(left)
    return starts


def _range(losses: pd.DataFrame, received: float) -> list[float]:
    starts = _starts(losses)
    ends = [start + float(kg) for start, kg in zip(starts, losses["kg"], strict=True)]
    low, high = min(0.0, *starts, *ends), max(received, *starts, *ends)
    return [low - (0.03 * received if low < 0 else 0.0), high * 1.02]


def _steps(figure: go.Figure, losses: pd.DataFrame, dark: bool) -> None:
    """A thin line from the end of each bar down to where the next one begins."""
    line = {"color": palette(dark).edge, "width": 1}
    received = float(losses["kg"].iloc[0])
    for row, start in enumerate(_starts(losses)[:-1]):
        edge = received if row == 0 else start
        figure.add_shape(type="line", x0=edge, x1=edge, y0=row + 0.21, y1=row + 0.79, layer="below", line=line)
