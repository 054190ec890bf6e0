"""Rows that cannot all be true, on a page: a mark beside the figures they affect, and the list it leads to."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd
from dash import dcc, html

from dashboards.ledger.version import LedgerVersion
from dashboards.parts.components import attributes
from dashboards.parts.download import download_links
from dashboards.parts.picker import bounds, newest_us
from dashboards.request.formats import day, moment
from dashboards.request.locale import say, say_again, say_n
from dashboards.request.url import View
from monitor.figures.contradictions import AFFECTS, KINDS, Contradiction
from shared.calendar import Calendar

#: Days listed where no range is chosen: of the whole plant, and of one press, die, coil or container.
DAYS, DAYS_OF_ONE = 7, 31

#: Contradictions listed on a page, and names of what one is about.
MOST_LINES, MOST_NAMES = 200, 8


@dataclass(frozen=True)
class Mark:
    """A mark beside figures: how many sets of rows contradict, of which kinds, and the way to their list."""

    words: str
    kinds: str
    href: str


def mark(found: Sequence[Contradiction], calendar: Calendar, view: View) -> Mark | None:
    """The mark for some contradictions, None where there are none; `view` says of which press, die or thing."""
    if not found:
        return None
    last = calendar.plant_day(max(one.at_us for one in found))
    kinds = dict.fromkeys(say(KINDS[one.code]) for one in found)
    words = say_n(len(found), "{n} contradiction", "{n} contradictions")
    return Mark(words, ", ".join(kinds), f"/intake{view.but(date=last).search}")


def mark_html(shown: Mark | None, short: bool = False) -> list[Any]:
    """The mark as a link in a line of its own, with its kinds unless it is to be short; nothing where there is none."""
    if shown is None:
        return []
    sign = html.B("≠", **attributes(aria_hidden="true"))
    words = shown.words if short else f"{shown.words}: {shown.kinds}"
    return [html.P(dcc.Link([sign, f" {words}"], href=shown.href, title=shown.kinds), className="contradicted")]


@dataclass(frozen=True)
class ContradictionInWords:
    """A contradiction in words: its kind, when and about what, what to do, and the figures it affects."""

    kind: str
    about: str
    remedy: str
    figures: str


@dataclass(frozen=True)
class Listed:
    """The list on the page *Intake*, the newest first, and the first and last day looked at (None: nothing is read)."""

    lines: tuple[ContradictionInWords, ...] = ()
    since: dt.date | None = None
    until: dt.date | None = None


def load_listed(reading: LedgerVersion, view: View) -> Listed:
    """The contradictions of a view: its range, else the days up to its date or the newest reading."""
    calendar, shown = reading.calendar(), _shown(reading, view)
    if calendar is None or shown is None:
        return Listed()
    found = reading.contradictions(*bounds(calendar, shown), view.press, view.die)
    return Listed(tuple(_line(one, calendar) for one in _about(found, view)), shown.since, shown.until)


def contradictions_of(reading: LedgerVersion, view: View) -> pd.DataFrame:
    """Rows of the figure `contradictions` of the days, press and die that the list of a view shows."""
    shown = _shown(reading, view) or view
    begin, end = bounds(reading.calendar(), shown)
    rows = reading.figure("contradictions", begin, end, press=view.press, die=view.die)
    return reading.exported("contradictions", rows)


def _shown(reading: LedgerVersion, view: View) -> View | None:
    """The view with the days that are listed, None where nothing has been read."""
    calendar, newest = reading.calendar(), newest_us(reading)
    if calendar is None or not newest:
        return None
    last = view.until or view.date or calendar.plant_day(newest)
    about_one = view.press or view.die or (view.scope and view.value)
    first = view.since or last - dt.timedelta(days=(DAYS_OF_ONE if about_one else DAYS) - 1)
    return view.but(since=first, until=last, shift="")


def _about(found: Iterable[Contradiction], view: View) -> list[Contradiction]:
    """Those of the coil or container of a view, the newest first; all of them where it names none."""
    names = {"coil": lambda one: one.coils, "container": lambda one: one.containers}.get(view.scope)
    kept = [one for one in found if names is None or not view.value or view.value in names(one)]
    return sorted(kept, key=lambda one: -one.at_us)


def _line(one: Contradiction, calendar: Calendar) -> ContradictionInWords:
    names = dict.fromkeys((*one.presses, *one.dies, *one.coils, *one.containers, *one.inspections))
    shown = ", ".join(list(names)[:MOST_NAMES]) + (" …" if len(names) > MOST_NAMES else "")
    figures = say("Figures affected: {figures}", figures=", ".join(AFFECTS[one.code]))
    return ContradictionInWords(
        say(KINDS[one.code]), f"{moment(one.at_us, calendar)} · {shown}", say_again(one.remedy), figures
    )


def listed_html(shown: Listed, view: View) -> list[Any]:
    """The heading and the list, or the sentence that there is nothing in it."""
    if shown.since is None or shown.until is None:
        return []
    days = say("{first} to {last}", first=day(shown.since), last=day(shown.until))
    title = html.H2(say("Rows that contradict one another"))
    ways = [download_links("contradictions", view)] if shown.lines else []
    head = [html.Div([title, *ways], className="panel-head"), html.P(days, className="note")]
    if not shown.lines:
        return [*head, html.P(say("None in these days."), className="note")]
    items = [
        html.Li([html.B(line.kind), html.Span(line.about), html.P(line.remedy), html.Small(line.figures)])
        for line in shown.lines[:MOST_LINES]
    ]
    more = len(shown.lines) - MOST_LINES
    command = "strokeledger figures contradictions"
    rest = [html.P(say("{n} more: {command}", n=more, command=command), className="note")] if more > 0 else []
    return [*head, html.Ul(items, className="contradictions"), *rest]
