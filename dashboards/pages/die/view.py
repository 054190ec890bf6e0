"""The die page below its pickers: totals, charts with their tables, and every shift in one table."""

from __future__ import annotations

from types import MappingProxyType
from typing import Any

import pandas as pd
from dash import dcc, html

from dashboards.pages.die import DIE_HOURS, DIE_SCRAP, DIE_STOPS, DIE_STRIP
from dashboards.pages.die.model import DieView, found_by
from dashboards.pages.die.stops import MOST_RIBBONS, DieStop, ShiftRibbon
from dashboards.parts.components import attributes, lack, number
from dashboards.parts.contradictions import mark_html
from dashboards.parts.download import download_links
from dashboards.parts.panel import graph, panel
from dashboards.parts.ribbon import Span
from dashboards.parts.tables import table
from dashboards.parts.totals import whole_sum
from dashboards.request.formats import (
    UNKNOWN,
    between,
    clock,
    count,
    date_of,
    day,
    decimal,
    duration,
    share,
    short_day,
    weight,
    weight_unit,
)
from dashboards.request.locale import key, locale, say, say_n
from dashboards.request.url import View
from monitor.charts.hours import hours_chart
from monitor.charts.pareto import pareto_chart
from monitor.charts.rates import rates_chart
from monitor.charts.style import kind_of
from monitor.charts.waterfall import waterfall_chart
from shared.calendar import Calendar
from shared.durations import HOUR_S
from shared.units import convert


def die_html(shown: DieView, dark: bool) -> list[Any]:
    """The page below the pickers, or the sentence that says what is lacking."""
    if shown.lack:
        return [lack(shown.lack)]
    title = f"{shown.view.die} {shown.die_name}".strip()
    return [
        html.Header([html.H1(title), html.P(_range(shown.view)), *mark_html(shown.contradicted)], className="head"),
        html.Dl([number(total) for total in shown.totals], className="numbers totals"),
        _output(shown, dark),
        _standing(shown, dark),
        *_stops(shown),
        _strip(shown, dark),
        _scrap(shown, dark),
        html.Section(
            [
                html.Div(
                    [html.H2(say("Shift by shift")), download_links("shifts", shown.view)], className="panel-head"
                ),
                _shift_table(shown.tables["shifts"]),
            ],
            className="panel whole",
        ),
    ]


def _range(view: View) -> str:
    if not (view.since and view.until):
        return ""
    told = key("{since} to {until}, {shift} shift") if view.shift else key("{since} to {until}")
    return say(told, since=day(view.since), until=day(view.until), shift=view.shift)


_KINDS = MappingProxyType(
    {
        "setup": key("setup"),
        "tooling": key("tooling"),
        "material": key("material"),
        "press": key("press"),
        "quality": key("quality"),
        "labour": key("labour"),
        "other": key("other"),
        "planned": key("planned stop"),
    }
)


def _kind(kind: str) -> str:
    return say(_KINDS.get(kind, kind)) if kind else UNKNOWN


def _output(shown: DieView, dark: bool) -> Any:
    hours = shown.tables["hours"]
    figure = hours_chart(hours, shown.clock, shown.rated_per_hour, dark, locale().words)
    made = hours.groupby("hour_start")["pieces"].sum()
    told = say(
        "{pieces} pieces in {hours} hours; the best hour made {most}.",
        pieces=count(made.sum()),
        hours=count(len(made)),
        most=count(made.max()),
    )
    takes = download_links("hours", shown.view, DIE_HOURS)
    return panel(say("Parts per hour"), graph(DIE_HOURS, figure, told), _hours_table(hours, shown.clock), takes)


def _standing(shown: DieView, dark: bool) -> Any:
    reasons = shown.tables["reasons"]
    total = float(reasons["minutes"].sum())
    rows = pd.DataFrame(
        {
            say("Reason"): reasons["reason"],
            say("Kind"): [_kind(kind) for kind in reasons["kind"]],
            say("Minutes"): [decimal(minutes, 0) for minutes in reasons["minutes"]],
            say("Share"): [share(minutes / total, 0) for minutes in reasons["minutes"]],
            say("Stops"): [count(number) for number in reasons["count"]],
        }
    )
    beside = table(rows, (say("Reason"), say("Kind")), say("Standing time by reason, planned breaks left out"))
    told = say("No stop.")
    if len(reasons):
        told = say(
            "{n} reasons; the longest is {reason} with {lasted} of {all}.",
            n=len(reasons),
            reason=reasons["reason"].iloc[0],
            lasted=duration(60 * reasons["minutes"].iloc[0]),
            all=duration(60 * total),
        )
    chart = graph(DIE_STOPS, pareto_chart(reasons, dark, locale().words), told)
    return panel(say("What the press stood for"), chart, beside, download_links("stops", shown.view, DIE_STOPS))


def _stops(shown: DieView) -> list[Any]:
    """Every shift as a ribbon, and the stops beside it as a list: either is tapped to say why the press stood."""
    if not shown.ribbons:
        return []
    bare = len({stop.stop_id for stop in shown.stops if stop.bare})
    told = [say("Tap a stop to say why."), say_n(bare, "{n} stop has no reason yet.", "{n} stops have no reason yet.")]
    if any(span.look == "unseen" for one in shown.ribbons for span in one.track):
        told.append(say("Hatched: not seen, no reading in between."))
    if len(shown.ribbons) == MOST_RIBBONS:
        told.append(say("The newest {n} shifts are drawn.", n=MOST_RIBBONS))
    ribbons = html.Ol([_ribbon(one) for one in shown.ribbons], className="shift-ribbons")
    listed = html.Ul([_stop(stop) for stop in shown.stops], className="stop-rows table-box", tabIndex=0)
    beside = listed if shown.stops else lack(say("No stop."))
    return [panel(say("When it stood"), ribbons, beside, download_links("stops", shown.view), " ".join(told))]


def _ribbon(one: ShiftRibbon) -> Any:
    label = [dcc.Link(one.words, href=f"/shift{one.page.search}"), html.Small(one.press_id)]
    marks = [_mark(span) for span in one.track]
    return html.Li(
        [html.Div(label, className="whose"), html.Div(html.Div(marks, className="track ribbon"), className="time")]
    )


def _mark(span: Span) -> Any:
    picked = attributes(data_stop=span.pick) if span.pick else {}
    place = {"left": f"{span.left}%", "width": f"{span.width}%"}
    return html.Div(className=f"mark {span.look}", title=span.title, style=place, **picked)


def _stop(stop: DieStop) -> Any:
    swatch = html.I(className=f"swatch kind-{kind_of(stop.kind)}", **attributes(aria_hidden="true"))
    words = [html.B(stop.words), html.Span(stop.lasted, className="lasted"), swatch, html.Span(stop.reason)]
    return html.Li(html.Button(words, **attributes(data_stop=stop.pick)), className="bare" if stop.bare else "")


def _strip(shown: DieView, dark: bool) -> Any:
    losses = shown.tables["losses"]
    kilograms = losses["kg"].to_numpy(dtype=float)
    losses = losses.assign(kg=convert(kilograms, "kg", weight_unit()))
    rows = pd.DataFrame(
        {
            say("Where it went"): losses["label"],
            weight_unit(): [decimal(amount) for amount in losses["kg"]],
            say("Share"): [share(part, 1) for part in losses["share"]],
        }
    )
    beside = table(rows, (say("Where it went"),), say("Received = all parts below it, the difference with its sign"))
    good = losses.loc[losses["part"] == "good", "share"]
    told = say(
        "{received} received; {share} of it became good pieces.",
        received=weight(kilograms[0]),
        share=share(good.iloc[0]),
    )
    chart = graph(DIE_STRIP, waterfall_chart(losses, dark, locale().words, weight_unit()), told)
    takes = download_links("coils", shown.view, DIE_STRIP)
    return panel(say("Where the strip went"), chart, beside, takes, _strip_note(shown))


def _strip_note(shown: DieView) -> str:
    notes = []
    if shown.left_out:
        notes.append(
            say_n(
                shown.left_out,
                "{n} coil without a known weight is left out.",
                "{n} coils without a known weight are left out.",
            )
        )
    if shown.view.shift:
        notes.append(say("Coils count whole, whatever the shift."))
    return " ".join(notes)


def _scrap(shown: DieView, dark: bool) -> Any:
    causes = shown.tables["causes"]
    rows = pd.DataFrame(
        {
            say("Cause"): causes["label"],
            say("Rate"): [share(rate) for rate in causes["rate"]],
            say("95 % interval"): [
                between(low, high) or UNKNOWN for low, high in zip(causes["rate_low"], causes["rate_high"], strict=True)
            ],
            say("Rejected"): [count(number) for number in causes["rejected"]],
            say("Inspected"): [count(number) for number in causes["inspected"]],
            say("By"): [found_by(estimate) for estimate in causes["estimate"]],
        }
    )
    beside = table(rows, (say("Cause"), say("By")), say("Scrap by cause; a sample is an estimate"))
    chart = graph(DIE_SCRAP, rates_chart(causes, dark, locale().words), _worst(causes))
    return panel(say("Scrap by cause"), chart, beside, download_links("scrap", shown.view, DIE_SCRAP))


def _worst(causes: pd.DataFrame) -> str:
    rated = causes[causes["rate"].notna()].sort_values("rate", ascending=False)
    if rated.empty:
        return say("No inspection with a known number of pieces in this range.")
    worst = rated.iloc[0]
    told = key("{n} causes; the most frequent is {cause} with {rate}.")
    return say(told, n=len(rated), cause=worst["label"], rate=share(worst["rate"]))


def _hours_table(hours: pd.DataFrame, calendar: Calendar) -> Any:
    groups = hours.groupby("hour_start")
    sums = (
        groups[["pieces", "rejected", "running_s", "unresolved_s"]]
        .sum()
        .assign(good=groups["good"].agg(whole_sum))
        .reset_index()
    )
    sums = sums.sort_values("hour_start", ascending=False)
    seen = (sums["running_s"] > 0) & (sums["unresolved_s"] == 0)
    rate = sums["pieces"].astype(float) * HOUR_S / sums["running_s"].where(seen)
    rows = pd.DataFrame(
        {
            say("Hour"): [f"{short_day(date_of(us, calendar))} {clock(us, calendar)}" for us in sums["hour_start"]],
            say("Pieces"): [count(value) for value in sums["pieces"]],
            say("Good"): [count(value) for value in sums["good"]],
            say("Rejected"): [count(value) for value in sums["rejected"]],
            say("Ran, min"): [decimal(value / 60, 0) for value in sums["running_s"]],
            say("Not seen, min"): [decimal(value / 60, 0) for value in sums["unresolved_s"]],
            say("Rate running"): [count(value) for value in rate],
        }
    )
    return table(rows, (say("Hour"),), say("Newest hour first"), "strokeledger figures hours --ledger LEDGER")


def _shift_table(rows: pd.DataFrame) -> Any:
    words = [say(name) for name in ("Date", "Shift", "Press", "By", "Longest reason")]
    return table(rows, words, say("Newest shift first"), "strokeledger figures shifts --ledger LEDGER")
