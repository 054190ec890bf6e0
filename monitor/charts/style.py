"""The one style of every chart and screen: colours, patterns, type and the rules for hostile text.

Colours never stand alone: each kind of stop has a pattern of its own and its name beside it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import plotly.graph_objects as go

from shared.words import ENGLISH, THIN, Words

FONT = '"Segoe UI", Roboto, "Helvetica Neue", "Liberation Sans", Arial, system-ui, sans-serif'

NO_REASON = "none"
"""Kind of a stop that nobody has given a reason for."""

PATTERNS: Mapping[str, str] = MappingProxyType(
    {
        "setup": "/",
        "tooling": "\\",
        "material": "|",
        "press": "x",
        "quality": ".",
        "labour": "-",
        "other": "+",
        "planned": "",
        NO_REASON: "",
    }
)
"""Kind of stop -> Plotly fill pattern."""


@dataclass(frozen=True)
class Palette:
    """Colours of one theme, as CSS hex."""

    paper: str
    surface: str
    ink: str
    soft: str
    rule: str
    steel: str
    edge: str
    run: str
    on_run: str
    reject: str
    loud: str
    on_loud: str
    kinds: Mapping[str, str]


LIGHT = Palette(
    paper="#f2f0ea",
    surface="#fbfaf6",
    ink="#14191d",
    soft="#515a60",
    rule="#d3cfc4",
    steel="#c3cbd0",
    edge="#7d8990",
    run="#1d4f63",
    on_run="#ffffff",
    reject="#b8390e",
    loud="#ffd23f",
    on_loud="#14191d",
    kinds=MappingProxyType(
        {
            "setup": "#4a86c5",
            "tooling": "#d0602a",
            "material": "#b58900",
            "press": "#7b4a9e",
            "quality": "#1f9a86",
            "labour": "#6f777c",
            "other": "#9a8f78",
            "planned": "#cfcabd",
            NO_REASON: "#ffd23f",
        }
    ),
)

DARK = Palette(
    paper="#101518",
    surface="#182024",
    ink="#eeece5",
    soft="#a7b1b6",
    rule="#323c41",
    steel="#56636b",
    edge="#8d9aa2",
    run="#5fb0cc",
    on_run="#07161c",
    reject="#ff8d5c",
    loud="#ffd23f",
    on_loud="#14191d",
    kinds=MappingProxyType(
        {
            "setup": "#6fa8e6",
            "tooling": "#ef8550",
            "material": "#d8b02e",
            "press": "#b48ad6",
            "quality": "#4fc7b0",
            "labour": "#a3abb0",
            "other": "#bdb196",
            "planned": "#3d474c",
            NO_REASON: "#ffd23f",
        }
    ),
)


def palette(dark: bool) -> Palette:
    """Colours of the dark or the light theme."""
    return DARK if dark else LIGHT


def kind_of(kind: str) -> str:
    """Kind of stop as the style knows it: an empty one is `NO_REASON`, an unheard-of one `other`."""
    if not kind:
        return NO_REASON
    return kind if kind in PATTERNS else "other"


def plain(text: object) -> str:
    """Text from a file made safe for a figure, which would otherwise read `<b>` or `<a href>` as markup."""
    escaped = str(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return re.sub(r"[\r\n\t]+", " ", escaped)


def shorten(text: str, length: int = 36) -> str:
    """Text of at most `length` characters, its end replaced by an ellipsis where it is longer."""
    return text if len(text) <= length else text[: length - 1].rstrip() + "…"


def tint(colour: str, ground: str, part: float = 0.25) -> str:
    """The colour thinned onto a ground: `part` of it, the rest ground; all CSS hex."""
    mixed = (round(part * int(colour[at : at + 2], 16) + (1 - part) * int(ground[at : at + 2], 16)) for at in (1, 3, 5))
    return "#" + "".join(f"{channel:02x}" for channel in mixed)


def fill(colours: list[str], shapes: list[str], dark: bool) -> dict[str, object]:
    """Bar markers, one a bar: a plain colour, or a pattern of it on its own tint; ink around the loud ones."""
    ground = palette(dark).surface
    return {
        "color": colours,
        "line": {"color": palette(dark).ink, "width": [1.5 if c == palette(dark).loud else 0.0 for c in colours]},
        "pattern": {
            "shape": shapes,
            "fillmode": "replace",
            "bgcolor": [tint(c, ground) if shape else c for c, shape in zip(colours, shapes, strict=True)],
            "size": 7,
            "solidity": 0.45,
        },
    }


def label_rows(figure: go.Figure, labels: list[tuple[str, str]], dark: bool) -> None:
    """Name each row of a horizontal chart above its mark, so that long names fit the narrowest screen.

    `labels`: (name, value) a row, top row first; rows are at y = 0, 1, 2 …
    """
    soft = palette(dark).soft
    same = {"x": 0, "xref": "paper", "xanchor": "left", "yanchor": "bottom", "yshift": 11, "align": "left"}
    same |= {"showarrow": False, "bgcolor": palette(dark).paper, "borderpad": 1}
    texts = [f'{plain(shorten(name))}  <span style="color:{soft}">{plain(value)}</span>' for name, value in labels]
    named = [{**same, "y": row, "text": text} for row, text in enumerate(texts)]
    # All at once: plotly checks the whole list anew for every one that is added.
    figure.update_layout(annotations=[*figure.layout.annotations, *named])
    figure.update_yaxes(showticklabels=False, showgrid=False, showline=False, range=[len(labels) - 0.6, -0.85])


def dressed(figure: go.Figure, dark: bool, height_px: int, words: Words = ENGLISH) -> go.Figure:
    """The figure in the house style, `height_px` high, with no buttons and no title of its own."""
    colours = palette(dark)
    figure.update_layout(
        template="none",
        height=height_px,
        margin={"l": 8, "r": 8, "t": 8, "b": 8},
        paper_bgcolor="rgba(0,0,0,0)",
        plot_bgcolor="rgba(0,0,0,0)",
        font={"family": FONT, "size": 14, "color": colours.ink},
        hoverlabel={"bgcolor": colours.ink, "font": {"color": colours.paper, "family": FONT, "size": 14}},
        legend={"orientation": "h", "x": 0, "y": 1.02, "yanchor": "bottom", "font": {"size": 13}},
        bargap=0.18,
        separators=words.decimal_sign + THIN,
        dragmode=False,
    )
    axis = {
        "automargin": True,
        "gridcolor": colours.rule,
        "linecolor": colours.edge,
        "zeroline": False,
        "tickfont": {"color": colours.soft, "size": 13},
        "title": {"font": {"color": colours.soft, "size": 13}, "standoff": 10},
        "fixedrange": True,
    }
    figure.update_xaxes(**axis)
    figure.update_yaxes(**axis)
    return figure


def blank(sentence: str, dark: bool = False, height_px: int = 160) -> go.Figure:
    """A figure that says why there is nothing to draw."""
    figure = dressed(go.Figure(), dark, height_px)
    figure.add_annotation(text=plain(sentence), showarrow=False, font={"color": palette(dark).soft, "size": 15})
    figure.update_xaxes(visible=False)
    figure.update_yaxes(visible=False)
    return figure
