"""Where strip went: coils, reels, containers and shipments as bands as wide as their pieces."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go

from monitor.charts.style import blank, dressed, palette, plain, shorten, tint
from shared.words import ENGLISH, Words, key

NO_COIL = key("coil not known")
ON_THE_FLOOR = key("on the floor")
"""Names in the links where there is no coil, or no shipment yet."""

KINDS = (key("coil"), key("reel"), key("container"), key("place"))
"""Kinds of stage in the order in which pieces pass them."""


def flow_chart(links: pd.DataFrame, dark: bool = False, words: Words = ENGLISH) -> go.Figure:
    """Bands from stage to stage.

    `links`: source_kind, source, target_kind, target, pieces, sure (pieces that are certain, the rest is drawn pale),
    is_known (False where the source is strip of no coil that is known, or of one of several).
    """
    if links.empty:
        return blank(words.say("No pieces to draw."), dark)
    colours = palette(dark)
    nodes, column = _nodes(links)
    place = {node: at for at, node in enumerate(nodes)}
    bands, unknown = _bands(links), _unknown(links)
    sure, doubt = words.say("certain"), words.say("may be, or of the coil next to it")
    pieces = f"{words.say('Pieces')}: %{{value:,}}"
    pale, full = tint(colours.edge, colours.paper, 0.3), tint(colours.run, colours.paper, 0.45)
    tallest = max(sum(1 for stage in column.values() if stage == nth) for nth in set(column.values()))
    figure = go.Figure(
        go.Sankey(
            arrangement="snap",
            node={
                "label": [plain(shorten(_name(name, words), 22)) for _, name in nodes],
                "customdata": [f"{words.say(kind)} {plain(_name(name, words))}" for kind, name in nodes],
                "hovertemplate": f"%{{customdata}}<br>{pieces}<extra></extra>",
                "color": [_colour(node, dark, unknown) for node in nodes],
                "line": {"color": colours.ink, "width": 0.6},
                "pad": 14,
                "thickness": 13,
            },
            link={
                "source": [place[band[0]] for band in bands],
                "target": [place[band[1]] for band in bands],
                "value": [band[2] for band in bands],
                "color": [full if band[3] else pale for band in bands],
                "customdata": [sure if band[3] else doubt for band in bands],
                "hovertemplate": f"%{{source.label}} → %{{target.label}}<br>{pieces}, %{{customdata}}<extra></extra>",
            },
            textfont={"color": colours.ink, "size": 13, "shadow": "none"},
            valueformat=",d",
        )
    )
    return dressed(figure, dark, max(220, 60 + 34 * tallest), words)


Node = tuple[str, str]


def _name(name: str, words: Words) -> str:
    """What stands on a label is shown as it is; where there is none, a word of ours stands."""
    return words.say(name) if name in (NO_COIL, ON_THE_FLOOR) else name


def _nodes(links: pd.DataFrame) -> tuple[list[Node], dict[Node, int]]:
    ends = [
        *zip(links["source_kind"], links["source"], strict=True),
        *zip(links["target_kind"], links["target"], strict=True),
    ]
    nodes = sorted(dict.fromkeys(ends), key=lambda node: (KINDS.index(node[0]), node[1]))
    return nodes, {node: KINDS.index(node[0]) for node in nodes}


def _bands(links: pd.DataFrame) -> list[tuple[Node, Node, int, bool]]:
    """Cut each link into the part that is certain and the rest."""
    found: list[tuple[Node, Node, int, bool]] = []
    names = ("source_kind", "source", "target_kind", "target", "pieces", "sure")
    for kind, source, target_kind, target, pieces, sure in zip(*(links[name].tolist() for name in names), strict=True):
        ends = ((kind, source), (target_kind, target))
        found += [(*ends, count, is_sure) for count, is_sure in ((sure, True), (pieces - sure, False)) if count > 0]
    return found


def _unknown(links: pd.DataFrame) -> set[Node]:
    """Return the stages that are of no known coil, or of one of several."""
    some = links[~links["is_known"].astype(bool)]
    return set(zip(some["source_kind"], some["source"], strict=True))


def _colour(node: Node, dark: bool, unknown: set[Node]) -> str:
    colours = palette(dark)
    if node in unknown:
        return colours.loud
    kind, _ = node
    return {"coil": colours.steel, "reel": colours.edge, "container": colours.run, "place": colours.ink}[kind]
