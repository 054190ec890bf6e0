"""The bench page: every die and cause with its headline, the ranked lines of one, and what they rest on."""

from __future__ import annotations

import base64
import datetime as dt
from typing import Any

from dash import html

from dashboards.pages.bench import (
    BENCH_CERTIFICATE,
    BENCH_CSV,
    BENCH_PDF,
    BENCH_RATES,
    BENCH_ROWS,
    BENCH_STRIP,
    BENCH_WEAR,
)
from dashboards.pages.bench.answer import answer_html, cases_html, pickers, silent_html
from dashboards.pages.bench.capability import capability_html
from dashboards.pages.bench.model import Bench, BenchView, Sides
from dashboards.pages.bench.tables import (
    bounds_of,
    certificate_label,
    certificate_rows,
    coil_rows,
    drawn_stations,
    evidence_rows,
    in_shown_units,
    lots_by_wear,
    marks_in_words,
    station_rows,
    wear_bins,
    wear_rows,
)
from dashboards.parts.components import lack
from dashboards.parts.download import as_png, download_links
from dashboards.parts.panel import graph, panel
from dashboards.parts.tables import table
from dashboards.request.formats import count, day, share
from dashboards.request.locale import locale, say, say_n
from dashboards.request.url import View
from monitor.charts.certificate import certificate_chart
from monitor.charts.coil_rates import coil_rates_chart
from monitor.charts.strip import strip_svg
from monitor.charts.wear import wear_chart
from monitor.reckoning.statistics.cusum import RUN_LENGTH
from monitor.verdict import names as naming
from monitor.verdict import sentences as telling

_LEAST_STATION_PX = 106

MOST_CERTIFICATES = 6
"""Certificate values drawn, the first of the table; a sheet of more would be read by nobody."""


def bench_html(shown: BenchView, dark: bool) -> list[Any]:
    """The page below its range, or the sentence that says what is lacking."""
    head = html.Header([html.H1(_title(shown)), html.P(_range(shown))], className="head")
    body = [head, lack(shown.lack)] if shown.bench is None else [head, *_body(shown, shown.bench, dark)]
    if shown.cases.empty:
        return body
    body = [pickers(shown), *body]
    return [html.Div([cases_html(shown), html.Div(body, className="bench-body")], className="bench-pair")]


def _title(shown: BenchView) -> str:
    if not shown.view.cause:
        return shown.die_name or say("Coil, die or run?")
    return say("{cause} on {die}: coil, die or run?", cause=shown.cause_name, die=shown.die_name)


def _range(shown: BenchView) -> str:
    view = shown.view
    if not (view.since and view.until):
        return ""
    dates = say("{since} to {until}", since=day(view.since), until=day(view.until))
    if view.shift and view.since == view.until:
        dates = say("{shift} shift, {date}", shift=view.shift, date=day(view.until))
    if shown.bench is None:
        return dates
    looked = shown.bench.case
    found = say(
        "{rejected} of {inspected} pieces looked at were rejected for it",
        rejected=count(looked.rejected),
        inspected=count(looked.inspected),
    )
    return f"{dates} · {found}"


def _body(shown: BenchView, bench: Bench, dark: bool) -> list[Any]:
    return [
        answer_html(shown, bench),
        _rates(shown, bench, dark),
        *silent_html(shown, bench),
        _evidence(shown, bench),
        _stations(shown, bench, dark),
        _wear(shown, bench, dark),
        *_lots(bench),
        _certificates(shown, bench, dark),
        *capability_html(shown),
        _sheet(shown),
    ]


def _rates(shown: BenchView, bench: Bench, dark: bool) -> Any:
    words, case = locale().words, bench.case
    marks, alarms, changes = marks_in_words(case)
    figure = coil_rates_chart(case.coils, marks, alarms=alarms, changes=changes, dark=dark, words=words)
    beyond = int(case.coils["outside"].sum())
    summary = [
        say_n(len(case.coils), "{n} coil in the order run.", "{n} coils in the order run."),
        say("Usual rate {usual}.", usual=share(case.coils["usual"].iloc[0])),
        say_n(beyond, "{n} lies beyond its limits.", "{n} lie beyond their limits."),
        say_n(len(changes), "The level changed {n} time.", "The level changed {n} times.")
        if len(changes)
        else say("The level did not change."),
        say("The watch is wrong once in {n} inspections.", n=count(RUN_LENGTH)),
    ]
    if case.coils["wear_rate"].isna().all():
        summary.append(say("No sharpening is known, so nothing is said of what wear alone would give."))
    rows = coil_rows(case)
    beside = table(rows, (say("Coil"), say("Lot"), say("Press")), say("Coil by coil."), _evidence_command(shown))
    told = " ".join(summary)
    takes = download_links("coil_rates", shown.view, BENCH_RATES)
    chart = graph(BENCH_RATES, figure, told)
    return panel(say("Rate of each coil, in the order run"), chart, beside, takes, told)


def _evidence(shown: BenchView, bench: Bench) -> Any:
    words, line = locale().words, shown.line
    parts: list[Any] = []
    if line is None or shown.sides is None:
        parts = [html.H2(say("The rows behind it")), lack(say("The rows of this line are not there any more."))]
    else:
        sides: Sides = shown.sides
        rows = evidence_rows(sides, bench.clock)
        title = html.H2(say("The rows behind it: {line}", line=naming.named(line.explanation, words)))
        parts = [
            html.Div([title, download_links("stretches", shown.view)], className="panel-head"),
            html.P(telling.by_hand(sides.bad, sides.compared, words), className="by-hand"),
            table(rows, _evidence_words(), _evidence_caption(sides), _evidence_command(shown)),
        ]
    return html.Section(parts, className="panel whole", id=BENCH_ROWS)


def _evidence_words() -> tuple[str, ...]:
    return (say("Inspection"), say("When"), say("Press"), say("Shift"), say("Coil"), say("Lot"))


def _evidence_caption(sides: Sides) -> str:
    return say_n(
        len(sides.bad),
        "{n} stretch of pieces; expected is what the rows it is compared with would have given.",
        "{n} stretches of pieces; expected is what the rows they are compared with would have given.",
    )


def _evidence_command(shown: BenchView) -> str:
    view = shown.view
    return f"strokeledger evidence --die {view.die} --cause {view.cause} --ledger LEDGER --out FOLDER"


def _stations(shown: BenchView, bench: Bench, dark: bool) -> Any:
    words, title = locale().words, say("The strip, station by station")
    if bench.stations.empty:
        told = say("The plant book has no stations of this die: load stations.csv.")
        return html.Section([html.H2(title), lack(told)], className="panel")
    svg = strip_svg(drawn_stations(bench.stations, bench.clock), dark, words)
    source = f"data:image/svg+xml;base64,{base64.b64encode(svg.encode()).decode()}"
    first = telling.open_first(bench.stations, words) or say("No station of this die can make it.")
    summary = say("{die} has {n} stations. {first}", die=shown.die_name, n=len(bench.stations), first=first)
    # As wide as there is room for, but never so narrow that a station cannot be read.
    width = {"minWidth": f"{_LEAST_STATION_PX * len(bench.stations)}px"}
    drawn = html.Img(src=source, alt=summary, style=width)
    drawing = html.Div(drawn, className="strip-drawing", tabIndex=0, id=BENCH_STRIP)
    beside = table(
        station_rows(bench.stations, bench.clock), (say("Operation"), say("Due")), say("Edges and when they are due")
    )
    return html.Section(
        [
            html.Div([html.H2(title), download_links("stations", shown.view, BENCH_STRIP)], className="panel-head"),
            html.P(f"{first} {say(telling.CAUTION)}", className="note"),
            drawing,
            beside,
        ],
        className="panel whole",
    )


def _wear(shown: BenchView, bench: Bench, dark: bool) -> Any:
    words = locale().words
    bins = wear_bins(bench.case)
    bounds = bounds_of(bench.stations)
    figure = wear_chart(bins, bounds, dark, words)
    known = bins[bins["inspected"] > 0]
    if known.empty:
        summary = say("Enter each sharpening with its station, and the rate over strokes stands here.")
    else:
        summary = say(
            "From {first} in the first strokes to {last} in the last ones seen.",
            first=share(known["rate"].iloc[0]),
            last=share(known["rate"].iloc[-1]),
        )
    summary = " ".join([summary, *(say("{name} at {n} strokes.", name=name, n=count(at)) for name, at, _ in bounds)])
    beside = table(wear_rows(bins), (), say("Rejects by strokes since sharpening"), _command("wear"))
    takes = download_links("wear", shown.view, BENCH_WEAR)
    chart = graph(BENCH_WEAR, figure, summary)
    return panel(say("Wear, and when a sharpening pays"), chart, beside, takes, summary)


def _lots(bench: Bench) -> list[Any]:
    """Coil against die in one table: where a lot has but one cell, the two cannot be told apart."""
    rows = lots_by_wear(bench.case)
    if rows.empty:
        return []
    caption = say("Lots down, strokes since sharpening across; a dash: nothing of the lot ran there.")
    told = table(rows, (say("Lot"),), caption, _command("scrap"))
    return [
        html.Section([html.H2(say("Coil against die: each lot by the state of the edge")), told], className="panel")
    ]


def _certificates(shown: BenchView, bench: Bench, dark: bool) -> Any:
    words, rows = locale().words, bench.certificates
    title = say("Certificate values and own tests against the rate")
    if rows.empty:
        told = lack(say("No value differs between the coils of this range."))
        return html.Section([html.H2(title), told], className="panel")
    suspect = set(shown.sides.bad["coil_id"]) if shown.sides is not None else set()
    rows = in_shown_units(rows.assign(suspect=rows["coil_id"].isin(suspect)))
    charts = []
    for at, ((name, source), part) in enumerate(list(rows.groupby(["property", "source"], sort=False))):
        if at < MOST_CERTIFICATES:
            label = certificate_label(str(name), str(source))
            chart = certificate_chart(part, label, dark, words)
            coils = say_n(len(part), "{label}: {n} coil.", "{label}: {n} coils.", label=label)
            place = f"{BENCH_CERTIFICATE}-{at}"
            charts.append(html.Div([graph(place, chart, coils), as_png(place)], className="certificate"))
    columns = (say("Value of"), say("Coil"), say("Lot"))
    told = table(certificate_rows(rows), columns, say("Coil by coil."), _evidence_command(shown))
    takes = download_links("certificate_values", shown.view)
    return panel(title, html.Div(charts, className="certificates"), told, takes)


def _command(figure: str) -> str:
    return f"strokeledger figures {figure} --ledger LEDGER --format csv --out FILE"


def _sheet(shown: BenchView) -> Any:
    """The evidence sheet to take away, and the command that makes the very same one."""
    view = shown.view
    dates = f" --from {view.since} --to {_day_after(view)}" if view.since and view.until else ""
    command = f"{_evidence_command(shown)}{dates} --version {shown.version}"
    return html.Section(
        [
            html.H2(say("Evidence sheet")),
            html.P(
                say(
                    "What was asked, the lines, the rows behind them and the charts, for whoever has to be shown. "
                    "It gives numbers and never says whose fault it is."
                )
            ),
            html.Div(
                [
                    html.Button(say("Sheet as PDF"), id=BENCH_PDF, className="act"),
                    html.Button(say("Rows as CSV"), id=BENCH_CSV, className="act"),
                ],
                className="pickers",
            ),
            html.P([say("The same again: "), html.Code(command)], className="note"),
        ],
        className="panel evidence-sheet",
    )


def _day_after(view: View) -> str:
    return (view.until + dt.timedelta(days=1)).isoformat() if view.until else ""
