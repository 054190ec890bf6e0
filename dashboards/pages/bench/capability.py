"""What press and die can hold, on the bench: the figure `capability` of the die, and where outs pooled in it differ."""

from __future__ import annotations

from typing import Any

import pandas as pd
from dash import html

from dashboards.pages.bench.model import BenchView
from dashboards.parts.download import download_links
from dashboards.parts.tables import table
from dashboards.request.formats import UNKNOWN, count, decimal, known
from dashboards.request.locale import say


def capability_html(shown: BenchView) -> list[Any]:
    """A row a characteristic and press, and a sentence for those whose outs differ; nothing where none was measured."""
    rows = shown.capability
    if rows.empty:
        return []
    head = html.Div(
        [html.H2(say("What press and die can hold")), download_links("capability", shown.view)], className="panel-head"
    )
    told = [html.P(sentence, className="differ", role="note") for sentence in differing(rows)]
    words = (say("Part"), say("Characteristic"), say("Press"), say("Stable"), say("Near normal"), say("Outs"))
    listed = table(capability_rows(rows), words, "", "strokeledger figures capability --ledger LEDGER")
    return [html.Section([head, *told, listed], className="panel")]


def differing(rows: pd.DataFrame) -> list[str]:
    """A sentence for each characteristic whose outs have different means: what the index is of, and what to do."""
    return [
        say(
            "{part}, {characteristic} on {press}: the outs differ in their mean. The indices are those of a mixture; "
            "judge each out by itself.",
            part=row["part_no"],
            characteristic=row["characteristic"],
            press=row["press_id"],
        )
        for row in rows.to_dict("records")
        if known(row["outs_differ"]) and row["outs_differ"]
    ]


def capability_rows(rows: pd.DataFrame) -> pd.DataFrame:
    """The rows in words."""
    ends = zip(rows["cpk_low"], rows["cpk_high"], strict=True)
    return pd.DataFrame(
        {
            say("Part"): rows["part_no"],
            say("Characteristic"): rows["characteristic"],
            say("Press"): rows["press_id"],
            say("Measured"): [count(n) for n in rows["n"]],
            "Cp": [decimal(value, 2) for value in rows["cp"]],
            "Cpk": [decimal(value, 2) for value in rows["cpk"]],
            say("95 % interval"): [_ends(low, high) for low, high in ends],
            "Ppk": [decimal(value, 2) for value in rows["ppk"]],
            say("Stable"): [_yes(value) for value in rows["stable"]],
            say("Near normal"): [_yes(value) for value in rows["normal"]],
            say("Outs"): [_outs(value) for value in rows["outs_differ"]],
        }
    )


def _ends(low: object, high: object) -> str:
    if not (known(low) and known(high)):
        return UNKNOWN
    return say("{low} to {high}", low=decimal(low, 2), high=decimal(high, 2))


def _yes(value: object) -> str:
    if not known(value):
        return UNKNOWN
    return say("yes") if value else say("no")


def _outs(value: object) -> str:
    if not known(value):
        return say("one out")
    return say("differ") if value else say("agree")
