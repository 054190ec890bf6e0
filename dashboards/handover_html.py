"""The hand-over as a page: the sheet that is printed, and a field to write a note."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from dashboards import ids
from dashboards.elements import attributes, lack
from dashboards.manner import manner, say
from dashboards.url import View
from monitor.handover import HandOver
from monitor.handover.sheet import Part, sheet
from shared.calendar import Calendar


def handover_html(told: HandOver, calendar: Calendar | None) -> list[Any]:
    """The whole sheet, or the sentence that says what is lacking."""
    if told.lack or calendar is None:
        return [lack(say(told.lack or "No counter has been read yet."))]
    shown = sheet(told, manner().words, calendar)
    return [
        html.Header([html.H1(f"{shown.title} · {shown.subtitle}"), html.P(" · ".join(shown.facts))], className="head"),
        html.Div([_part(part, told) for part in shown.parts], className="sheet-parts"),
    ]


def note_html(presses: list[str]) -> Any:
    """The field to write a note on the shift, of one press or of all."""
    note = dcc.Textarea(id=ids.HANDOVER_NOTE, maxLength=500, rows=3)
    pick = dcc.Dropdown(presses, id=ids.HANDOVER_PRESS, placeholder=say("all presses"), searchable=False)
    return html.Section(
        [
            html.H2(say("Note on this shift")),
            html.Div(
                [
                    html.Label([say("Press"), pick]),
                    html.Label([say("For those who come after; no names of people"), note], className="wide"),
                    html.Button(say("Write note"), id=ids.HANDOVER_WRITE, className="act"),
                ],
                className="pickers",
            ),
        ],
        className="panel entry noprint",
    )


def _part(part: Part, told: HandOver) -> Any:
    heading = html.H2(part.title)
    if not part.rows:
        return html.Section([heading, html.P(part.none, className="note")], className=f"part {part.name}-part")
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
    return html.Section([heading, box], className=f"part {part.name}-part")


def _cell(part: Part, told: HandOver, column: int, cell: str) -> Any:
    """A cell; the press of a line leads to its page of this shift."""
    if column == 0 and any(line.press_id == cell for line in told.presses):
        view = View(press=cell, date=told.date, shift=told.shift)
        return dcc.Link(cell, href=f"/shift{view.search}")
    return cell
