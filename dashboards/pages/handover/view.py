"""The hand-over as a page: the sheet that is printed, and a field to write a note."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict
from types import MappingProxyType
from typing import Any

import pandas as pd
from dash import dcc, html

from dashboards.ledger.version import LedgerVersion
from dashboards.pages.handover import HANDOVER_NOTE, HANDOVER_PRESS, HANDOVER_WRITE
from dashboards.parts.components import attributes, lack, list_words
from dashboards.parts.download import download_links
from dashboards.request.locale import locale, say
from dashboards.request.url import View
from monitor.handover import HandOver
from monitor.handover.sheet import SheetPart, sheet
from shared.calendar import Calendar

#: Parts of the sheet, and where the hand-over has their lines.
_LINES = {
    "output": "presses",
    "stops": "stops",
    "scrap": "scrap",
    "coils": "coils",
    "due": "due",
    "alarms": "alarms",
    "holds": "holds",
    "notes": "notes",
    "contradictions": "contradictions",
}

#: Column of the part on contradictions whose words lead to the list of all of them.
_KIND = 2


def handover_html(told: HandOver, calendar: Calendar | None, press: str = "") -> list[Any]:
    """The whole sheet, or the sentence that says what is lacking; `press` is the only one shown, "" for all."""
    if told.lack or calendar is None:
        return [lack(say(told.lack or "No counter has been read yet."))]
    shown = sheet(told, locale().words, calendar)
    view = View(date=told.date, shift=told.shift, press=press)
    return [
        html.Header([html.H1(f"{shown.title} · {shown.subtitle}"), html.P(" · ".join(shown.facts))], className="head"),
        html.Div([_part(part, told, view) for part in shown.parts], className="sheet-parts"),
    ]


def note_html(presses: list[str]) -> Any:
    """The field to write a note on the shift, of one press or of all."""
    note = dcc.Textarea(id=HANDOVER_NOTE, maxLength=500, rows=3)
    every = say("all presses")
    pick = dcc.Dropdown(presses, id=HANDOVER_PRESS, placeholder=every, searchable=False, labels=list_words())
    return html.Section(
        [
            html.H2(say("Note on this shift")),
            html.Div(
                [
                    html.Label([say("Press"), pick]),
                    html.Label([say("For those who come after; no names of people"), note], className="wide"),
                    html.Button(say("Write note"), id=HANDOVER_WRITE, className="act"),
                ],
                className="pickers",
            ),
        ],
        className="panel entry noprint",
    )


def _part(part: SheetPart, told: HandOver, view: View) -> Any:
    place = f"part {part.name}-part"
    if not part.rows:
        return html.Section([html.H2(part.title), html.P(part.none, className="note")], className=place)
    heading = html.Div([html.H2(part.title), download_links(f"hand_over_{part.name}", view)], className="panel-head")
    looks = ["figure" if column.number else "word" for column in part.columns]
    head = [html.Th(c.label, className=look, scope="col") for c, look in zip(part.columns, looks, strict=True)]
    rows = [
        html.Tr(
            [
                html.Td(_cell(part, told, n, cell), className=look)
                for n, (cell, look) in enumerate(zip(row, looks, strict=True))
            ],
            className="loud" if place in part.loud else "",
        )
        for place, row in enumerate(part.rows)
    ]
    table = html.Table([html.Thead(html.Tr(head)), html.Tbody(rows)])
    box = html.Div(table, className="table-box plain", tabIndex=0, role="region", **attributes(aria_label=part.title))
    return html.Section([heading, box], className=place)


def _cell(part: SheetPart, told: HandOver, column: int, cell: str) -> Any:
    """A cell; the press of a line leads to its page of this shift."""
    if part.name == "contradictions" and column == _KIND:
        about = View(press=told.presses[0].press_id if len(told.presses) == 1 else "", date=told.date)
        return dcc.Link(cell, href=f"/intake{about.search}")
    if column == 0 and any(line.press_id == cell for line in told.presses):
        view = View(press=cell, date=told.date, shift=told.shift)
        return dcc.Link(cell, href=f"/shift{view.search}")
    return cell


def _rows_of(lines: str) -> Callable[[LedgerVersion, View], pd.DataFrame]:
    """The lines of one part of the sheet, as they are known and not in words."""

    def rows(reading: LedgerVersion, view: View) -> pd.DataFrame:
        told = reading.floor.hand_over(view.date, view.shift, view.press)
        return pd.json_normalize([asdict(line) for line in getattr(told, lines)])

    return rows


DOWNLOADS: Mapping[str, Callable[[LedgerVersion, View], pd.DataFrame]] = MappingProxyType(
    {f"hand_over_{part}": _rows_of(lines) for part, lines in _LINES.items()}
)
"""Name of what is taken away -> its rows for a view."""
