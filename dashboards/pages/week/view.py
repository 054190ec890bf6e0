"""The week page below its pickers: the report in numbers, its changes, what was done, its preview, and what is due."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence
from typing import Any

import pandas as pd
from dash import dcc, html

from dashboards.ledger.quality_desk import CustomerReport, Job, Week
from dashboards.pages.week import WEEK_BY, WEEK_SAVE, WEEK_SENT, WEEK_TEXT, WEEK_WAS, WEEK_WHO
from dashboards.pages.week.model import Cause, WeekView
from dashboards.parts.components import attributes, lack, number
from dashboards.parts.download import download_links
from dashboards.parts.numbers import Number
from dashboards.parts.tables import table
from dashboards.request.formats import count, decimal, known, short_day, written
from dashboards.request.locale import locale, say, say_error, say_n
from dashboards.request.url import View
from monitor.report import Due, ReportStatus, SentReport
from monitor.report.sections.outline import figure_text, named
from monitor.report.words import PaperWords

_SHOWN_OF_HASH = 12


def week_html(shown: WeekView, done: str = "") -> list[Any]:
    """The page below the pickers, or the sentence that says what is lacking."""
    said = [html.P(done, className="summary", role="status")] if done else []
    if shown.report is None or shown.week is None:
        return [*said, lack(shown.lack), *_due(shown)]
    return [
        *said,
        *_due(shown),
        html.Header([html.H1(shown.customer), html.P(_span(shown.week))], className="head"),
        *_sentences(shown),
        html.Dl([number(total) for total in _totals(shown.report)], className="numbers totals"),
        *_changes(shown.report),
        *_causes(shown.causes),
        _preview(shown),
    ]


def _span(week: Week) -> str:
    first, last = short_day(week.first), short_day(week.last)
    return say("{week}, {first} to {last}", week=week.name, first=first, last=last)


def _sentences(shown: WeekView) -> list[Any]:
    told = []
    if shown.report and not shown.report.view.read:
        told.append(
            say("No counter readings of this week or a later one have been loaded: nothing is known of it yet.")
        )
    elif shown.empty:
        told.append(say("Nothing was made, shipped or complained about in this week; the report says so."))
    elif shown.silent:
        parts = ", ".join(shown.silent)
        told.append(
            say("Not inspected in this week: {parts}. That is no proof that they were free of faults.", parts=parts)
        )
    return [html.P(sentence, className="note") for sentence in told]


def _totals(report: CustomerReport) -> list[Number]:
    total, holds = report.view.total, report.view.tables["holds"]
    ends = "" if not known(total["theirs_low"]) else _ends(total["theirs_low"], total["theirs_high"])
    disputed = say("{disputed} of them disputed or open", disputed=count(total["disputed"]))
    return [
        Number(say("Made"), count(total["made"]), (say("{good} good", good=count(total["good"])),)),
        Number(say("Shipped"), count(total["shipped"]), ()),
        Number(say("In complaints"), count(total["complaint_pieces"]), (disputed,)),
        Number(say("ppm (customer)"), _ppm(total["ppm_theirs"]), (ends,)),
        Number(say("ppm (accepted)"), _ppm(total["ppm_ours"]), ()),
        Number(say("Open containment"), count(len(holds)), (), loud=len(holds) > 0),
    ]


def _ppm(value: Any) -> str:
    return decimal(value, 1 if known(value) and 0 < value < 10 else 0)


def _ends(low: float, high: float) -> str:
    return say("95 % interval {low} to {high}", low=_ppm(low), high=_ppm(high))


def _changes(report: CustomerReport) -> list[Any]:
    if report.sent is None:
        return []
    told = _sent_words(report.sent)
    if not report.changes:
        return [
            html.Section(
                [html.H2(say("sent").capitalize()), html.P(f"{told} {say('No figure has changed since then.')}")]
            )
        ]
    words = PaperWords(locale().words)
    rows = pd.DataFrame(
        [(named(c.name, words), figure_text(c.was, words), figure_text(c.now, words)) for c in report.changes],
        columns=[say("Figure"), say("was"), say("is now")],
    )
    since = say_n(len(rows), "{n} figure has changed since then.", "{n} figures have changed since then.")
    shown = table(rows, (say("Figure"),), say("Changed since the report that was sent"))
    return [
        html.Section([html.H2(say("Changed since it was sent")), html.P(f"{told} {since}"), shown], className="panel")
    ]


def _written(report: SentReport) -> str:
    return written(dt.datetime.fromisoformat(report.sent_at))


def _sent_words(sent: SentReport) -> str:
    by, when = sent.by or "–", _written(sent)
    return say("Sent {when} by {by}, from ledger version {version}.", when=when, by=by, version=sent.version)


def _made_words(made: SentReport) -> str:
    return say(
        "Made {when}, from ledger version {version}.",
        when=_written(made),
        version=made.version,
    )


def _causes(causes: Sequence[Cause]) -> list[Any]:
    if not causes:
        return []
    note = say(
        "Stands in the customer's report as it is written: no names of people, no other customers. "
        "Who wrote it, and when, is kept here and not told."
    )
    save = [
        html.Label([say("Your name"), dcc.Input(id=WEEK_BY, type="text", maxLength=80)]),
        html.Button(say("Save what was done"), id=WEEK_SAVE, className="act"),
    ]
    rows = [_cause(cause) for cause in causes]
    head = [html.H2(say("What was done about the causes")), html.P(note, className="note")]
    return [
        html.Section(
            [*head, html.Div(rows, className="causes"), html.Div(save, className="pickers")], className="panel"
        )
    ]


def _cause(cause: Cause) -> Any:
    key = f"{cause.part_no}\n{cause.cause}"
    title = f"{cause.part_no}: {cause.cause} {cause.name}".strip()
    found = say_n(cause.rejected, "{n} piece rejected", "{n} pieces rejected")
    written = say("written by {by}", by=cause.by or "–") if cause.done else say("nothing written yet")
    text = dcc.Textarea(
        id={"type": WEEK_TEXT, "key": key}, value=cause.done, maxLength=500, rows=2, className="done-text"
    )
    was = dcc.Store(id={"type": WEEK_WAS, "key": key}, data=cause.done)
    return html.Label([html.B(title), html.Small(f"{found}, {written}"), text, was], className="cause")


def _preview(shown: WeekView) -> Any:
    assert shown.report is not None
    title = say("Preview of the report for {customer}", customer=shown.customer)
    view = shown.report.view
    # What the frame shows has a place of its own, since in a frame without one no link to a section works; what is
    # in force changes that place.  Without a single permission the page can run nothing and reach nothing.
    place = f"/preview{View(customer=shown.customer, week=view.week).search}"
    stamp = hashlib.sha256(shown.report.page.encode()).hexdigest()[:_SHOWN_OF_HASH]
    frame = html.Iframe(src=f"{place}&is={stamp}", sandbox="", title=title, className="paper")
    told = say("Ledger version {version} · figures {hash}", version=view.version, hash=view.figures_hash[:16])
    head = html.Div(
        [html.H2(say("Preview")), download_links("customer_week", View(customer=shown.customer, week=view.week))],
        className="panel-head",
    )
    return html.Section([head, html.P(told, className="note"), frame], className="panel")


def _due(shown: WeekView) -> list[Any]:
    if not shown.due or shown.week is None:
        return []
    rows = [_due_row(row, shown) for row in shown.due]
    labels = (say("Customer"), say("Due"), say("Standing"), say("Made or sent"))
    head = html.Thead(html.Tr([html.Th(label, scope="col") for label in labels]))
    note = say(
        "Days come from [[report.customer]] in plant.toml; what is due is made once, by this server or by {command}.",
        command="strokeledger week --due",
    )
    title = say("Reports of {week}", week=shown.week.name)
    body = html.Div(html.Table([head, html.Tbody(rows)]), className="table-box", tabIndex=0)
    return [html.Section([html.H2(title), body, html.P(note, className="note")], className="panel due")]


def _due_row(row: Due, shown: WeekView) -> Any:
    week = shown.week.name if shown.week else ""
    link = dcc.Link(row.customer, href=f"/week{View(customer=row.customer, week=week).search}")
    told = _sent_words(row.sent) if row.sent else _made_words(row.made) if row.made else ""
    standing = html.Span(_standing(row.standing), className=f"standing {row.standing}")
    here = "here" if row.customer == shown.customer else ""
    return html.Tr(
        [html.Td(cell) for cell in (link, short_day(row.on) if row.on else "–", standing, told)], className=here
    )


def _standing(standing: ReportStatus) -> str:
    words = {
        ReportStatus.SENT: say("sent"),
        ReportStatus.MADE: say("made, not sent"),
        ReportStatus.DUE: say("due, not sent"),
        ReportStatus.AHEAD: say("not due yet"),
        ReportStatus.UNPLANNED: say("no day set"),
    }
    return words[standing]


def job_html(number: str, job: Job | None, sent: Sequence[SentReport] = (), fault: str = "") -> list[Any]:
    """How far a job is; its files and the button that notes them as sent once it is done."""
    if job is None:
        return [html.P(say("These reports are not kept any more. Make them again."), role="status")]
    if job.failed:
        why = say("The reports could not be made: {why}", why=say_error(job.failed))
        return [html.P(why, className="fault", role="alert")]
    if not job.finished:
        return [_progress(job)]
    return [*_files(number, job), *_sending(sent, fault)]


def _progress(job: Job) -> Any:
    told = say("Making {done} of {all}: {customer}", done=job.done + 1, all=len(job.customers), customer=job.now)
    bar = html.Progress(value=str(job.done), max=str(len(job.customers)), **attributes(aria_label=told))
    return html.Div([bar, html.Span(told)], className="progress", role="status")


def _files(number: str, job: Job) -> list[Any]:
    what = say_n(len(job.customers), "{n} report", "{n} reports")
    told = say("Made {what} of {week} from ledger version {version}.", what=what, week=job.week, version=job.version)
    names = {"report.pdf": "PDF", "report.xlsx": "XLSX", "report.html": "HTML"}
    one = [(label, path) for name, label in names.items() for path in job.files if path.endswith(f"/{name}")]
    links = [_link(number, label, path) for label, path in one] if len(job.customers) == 1 else []
    every = _link(number, say("All files (ZIP)"), "all.zip")
    return [html.P(told, role="status"), html.P([*links, every], className="takes")]


def _link(number: str, label: str, path: str) -> Any:
    return html.A(label, href=f"/papers/{number}/{path}", download="", className="take")


def _sending(sent: Sequence[SentReport], fault: str) -> list[Any]:
    if sent:
        return [html.P(_sent_words(entry), role="status", className="sent") for entry in sent[:1]] + [_digest(sent)]
    form = [
        html.Label([say("Your name"), dcc.Input(id=WEEK_WHO, type="text", maxLength=80)]),
        html.Button(say("Mark as sent"), id=WEEK_SENT, className="act"),
    ]
    told = [html.P(fault, role="alert", className="fault")] if fault else []
    return [*told, html.Div(form, className="pickers")]


def _digest(sent: Sequence[SentReport]) -> Any:
    first = next(iter(entry.files[name] for entry in sent for name in entry.files if name.endswith(".pdf")), "")
    told = say(
        "Kept in the register with the SHA-256 of every file; the PDF begins with {hash}.", hash=first[:_SHOWN_OF_HASH]
    )
    return html.P(told, className="note")
