"""The intake page: counts, reasons, the rows set aside as they came, and the files."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from dashboards.pages.intake import (
    INTAKE_COLUMN,
    INTAKE_CORRECT,
    INTAKE_FILE,
    INTAKE_GET,
    INTAKE_PUT,
    INTAKE_REASON,
    INTAKE_RELEASE,
    INTAKE_ROWS,
    INTAKE_VALUE,
    INTAKE_WHO,
)
from dashboards.pages.intake.model import ALL, IntakeView
from dashboards.parts.components import lack, list_words, number
from dashboards.parts.download import download_links
from dashboards.parts.tables import table
from dashboards.request.formats import day
from dashboards.request.locale import key, say, say_n


def summary_html(shown: IntakeView) -> list[Any]:
    """The counts of all files, which close: read = new + repeated + corrected + set aside."""
    totals = html.Dl([number(total) for total in shown.totals], className="numbers totals")
    if not shown.narrowed:
        return [totals]
    since, until = (day(date) if date else "…" for date in (shown.view.since, shown.view.until))
    told = say("Loaded {since} to {until}", since=since, until=until)
    return [html.P(f"{told} · {shown.view.shift}" if shown.view.shift else told, className="note"), totals]


def rows_html(shown: IntakeView) -> list[Any]:
    """The rows of the reason chosen, as they came."""
    if shown.rows.empty and shown.narrowed:
        return [lack(say("No rows were set aside in these days."))]
    if shown.rows.empty:
        return [lack(say("No rows are set aside: everything that was read is in the figures."))]
    words = [name for name in shown.rows.columns if name not in (say("Row"), say("Line"))]
    caption = say_n(len(shown.rows), "{n} row set aside.", "{n} rows set aside.")
    listed = table(shown.rows, words, caption, "strokeledger set-aside export")
    return [download_links("set_aside", shown.view), html.Div(listed, className="whole")]


def clocks_html(shown: IntakeView) -> list[Any]:
    """What was found of the clocks of counters; nothing where they agree with what was noted."""
    if not shown.clocks:
        return []
    return [html.H2(say("Clocks")), html.Ul([html.Li(line) for line in shown.clocks], className="clocks")]


def files_html(shown: IntakeView) -> list[Any]:
    """The files, the newest first."""
    if shown.files.empty and shown.narrowed:
        return [lack(say("No file was loaded in these days. Choose other days, or all of them."))]
    if shown.files.empty:
        return [lack(say("Nothing has been loaded yet: strokeledger load FOLDER --ledger DIR"))]
    words = [say(name) for name in ("File", "Table", "Loaded", "Refused because")]
    listed = table(shown.files, words, say("Newest first."), "strokeledger figures loads")
    return [download_links("loads", shown.view), html.Div(listed, className="whole")]


def picker(shown: IntakeView) -> Any:
    """The reasons to choose from, the most frequent first."""
    options = [{"label": say(ALL), "value": ALL}, *({"label": one.label, "value": one.key} for one in shown.groups)]
    return dcc.Dropdown(options, shown.chosen, id=INTAKE_REASON, clearable=False, labels=list_words())


def edit_form() -> list[Any]:
    """Fields to mend rows and let them in; every field but the name may stay empty."""
    return [
        html.Label([say("Rows, for instance 7, 12-20"), _field(INTAKE_ROWS, say("all that are shown"))]),
        html.Label(
            [
                say("Put into column"),
                dcc.Dropdown([], id=INTAKE_COLUMN, placeholder=say("nothing"), labels=list_words()),
            ]
        ),
        html.Label([say("this value"), _field(INTAKE_VALUE, "")]),
        html.Label([say("Who lets them in"), _field(INTAKE_WHO, say("your name"))]),
        dcc.Checklist([{"label": say(REPLACE), "value": REPLACE}], [], id=INTAKE_CORRECT, className="tick"),
        html.Button(say("Let in"), id=INTAKE_RELEASE, className="act"),
        html.Button(say("Download as CSV"), id=INTAKE_GET, className="act"),
        dcc.Upload(html.Button(say("Let in a mended CSV"), className="act"), id=INTAKE_PUT, accept=".csv"),
        dcc.Download(id=INTAKE_FILE),
    ]


REPLACE = key("replace stored rows they contradict")


def _field(name: str, hint: str) -> Any:
    return dcc.Input(id=name, type="text", value="", maxLength=500, placeholder=hint)
