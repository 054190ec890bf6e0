"""The left of the bench page and its answer: every die and cause with its headline, and the ranked lines of one."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd
from dash import dcc, html

from dashboards import ids
from dashboards.pages.bench.model import GIVEN, Bench, BenchView
from dashboards.parts.download import take_away
from dashboards.parts.elements import attributes, list_words
from dashboards.request.formats import count
from dashboards.request.locale import manner, say, say_n
from monitor.verdict import names as naming
from monitor.verdict import sentences as telling

Row = Mapping[Hashable, Any]

#: Ends of the scale on which ratios are drawn [times].
_LEAST, _MOST = 0.5, 16.0


def pickers(shown: BenchView) -> Any:
    """Die and cause to pick from; what the address names is an option too, or the picker would empty itself."""
    view, cases = shown.view, shown.cases
    dies = sorted({*cases["die_id"], view.die} - {""})
    causes = sorted({*cases.loc[cases["die_id"] == view.die, "cause"], view.cause} - {""})
    die_options = [{"label": f"{die} {shown.die_names.get(die, '')}".strip(), "value": die} for die in dies]
    cause_options = [{"label": f"{one} {shown.cause_names.get(one, '')}".strip(), "value": one} for one in causes]
    return html.Div(
        [
            html.Label([say("Die"), _dropdown(die_options, view.die, ids.BENCH_DIE)]),
            html.Label([say("Cause"), _dropdown(cause_options, view.cause, ids.BENCH_CAUSE)]),
        ],
        className="pickers",
    )


def _dropdown(options: list[dict[str, str]], value: str, name: str) -> Any:
    return dcc.Dropdown(options, value or None, id=name, clearable=False, className="pick-die", labels=list_words())


def cases_html(shown: BenchView) -> Any:
    """Every die and cause, those that act first; the one shown is marked."""
    items = [_case(shown, row) for row in shown.cases.to_dict("records")]
    title = say_n(len(items), "{n} die and cause", "{n} dies and causes")
    return html.Nav(
        [html.H2(title), html.Ol(items, className="cases", tabIndex=0)],
        className="bench-cases",
        **attributes(aria_label=say("Dies and causes")),
    )


def _case(shown: BenchView, row: Row) -> Any:
    here = (row["die_id"], row["cause"]) == (shown.view.die, shown.view.cause)
    view = shown.view.but(die=row["die_id"], cause=row["cause"], scope="", value="")
    name = f"{row['cause']} {shown.cause_names.get(row['cause'], '')}".strip()
    link = dcc.Link(
        [_badge(row), html.B(f"{row['die_id']} · {name}" if name else row["die_id"]), html.Small(_headline(row))],
        href=f"/bench{view.search}",
        className=f"case is-{row['verdict'] or 'none'}{' here' if here else ''}",
    )
    return html.Li(link, **(attributes(aria_current="true") if here else {}))


def _badge(row: Row) -> Any:
    return html.Span(telling.verdict(row, manner().words), className="verdict")


def _headline(row: Row) -> str:
    words = manner().words
    if row["verdict"] in GIVEN:
        times = words.number(row["rate_ratio"], 1)
        return say("{line}, {times} times", line=naming.named(row, words), times=times)
    return say("{rejected} of {inspected}", rejected=count(row["rejected"]), inspected=count(row["inspected"]))


def answer_html(shown: BenchView, bench: Bench) -> Any:
    """The lines that act or are tied, each in full; that there is none is an answer too."""
    rows = bench.case.lines.to_dict("records")
    given = [_line(shown, bench, at, row) for at, row in enumerate(rows) if row["verdict"] in GIVEN]
    takes = take_away("suspects", shown.view)
    parts: list[Any] = [html.Div([html.H2(_verdict_title(rows)), takes], className="panel-head")]
    if given:
        parts.append(html.Ol(given, className="lines"))
        parts.append(html.P(say(telling.CAUTION), className="lockout"))
    return html.Section(parts, className="panel answer")


def silent_html(shown: BenchView, bench: Bench) -> list[Any]:
    """The factors of which nothing stands out, each with its strongest level; none where every factor is a line."""
    rows = bench.case.lines.to_dict("records")
    silent = [_silent(shown, at, row) for at, row in enumerate(rows) if row["verdict"] not in GIVEN]
    if not silent:
        return []
    return [
        html.Section([html.H2(say("What else was looked at")), html.Ul(silent, className="silents")], className="panel")
    ]


def _verdict_title(rows: list[dict[Hashable, Any]]) -> str:
    given = [row for row in rows if row["verdict"] in GIVEN]
    if not given:
        few = any(row["verdict"] == "not_enough" for row in rows)
        return say("Not enough yet: nothing stands out") if few else say("Nothing stands out from what was looked at")
    sides = ", ".join(dict.fromkeys(naming.side(row["factor"], manner().words) for row in given))
    if any(row["verdict"] == "tied" for row in given):
        return say("These data cannot tell yet between: {sides}", sides=sides)
    return say("What acts: {sides}", sides=sides)


def _line(shown: BenchView, bench: Bench, at: int, row: Row) -> Any:
    words, sides = manner().words, bench.given[at]
    whole = naming.level(row["level"], row["factor"], words)
    facts = [
        *([whole] if whole not in naming.named(row, words) else []),
        telling.times(row, words),
        " · ".join(part for part in (telling.pieces(row, words), telling.chance(row, words)) if part),
    ]
    points = telling.against(row, sides.bad, sides.compared, words) if sides else []
    against = " ".join(points) or say("Nothing in these data.")
    told = [
        html.H3([_badge(row), html.Span(naming.named(row, words)), html.Small(naming.side(row["factor"], words))]),
        _gauge(row),
        *[html.P(fact) for fact in facts],
        html.P([html.B(say("Against it")), against]),
        html.P([html.B(say("Where")), telling.open_first(bench.stations, words) or say("No station of this die.")]),
        html.P([html.B(say("Next")), telling.next_test(row, words)]),
        _show_rows(shown, at, row),
    ]
    return html.Li(told, className=f"line is-{row['verdict']}{' here' if at == shown.chosen else ''}")


def _show_rows(shown: BenchView, at: int, row: Row) -> Any:
    if at == shown.chosen:
        return html.A(say("Its rows are shown below"), href=f"#{ids.BENCH_ROWS}", className="rows-of")
    view = shown.view.but(scope=row["factor"], value=row["level"])
    return dcc.Link(say("Show its rows"), href=f"/bench{view.search}", className="rows-of")


def _silent(shown: BenchView, at: int, row: Row) -> Any:
    """A factor of which nothing stands out: its strongest level and what that means."""
    words = manner().words
    view = shown.view.but(scope=row["factor"], value=row["level"])
    return html.Li(
        [
            _badge(row),
            dcc.Link(naming.factor(row["factor"], words), href=f"/bench{view.search}", className="factor"),
            _gauge(row),
            html.Span(say("most: {level}", level=naming.level(row["level"], row["factor"], words)), className="most"),
            html.Span(telling.next_test(row, words), className="enough"),
        ],
        className=f"silent is-{row['verdict']}{' here' if at == shown.chosen else ''}",
    )


def _gauge(row: Row) -> Any:
    """The ratio with its interval on a scale of doublings; 1 is the line in it."""
    words = manner().words
    if pd.isna(row["rate_ratio"]):
        return html.Span("", className="gauge")
    low, value, high = (_along(row[name]) for name in ("ratio_low", "rate_ratio", "ratio_high"))
    told = telling.times(row, words)
    return html.Div(
        [
            html.I(className="span", style={"left": f"{low:.1f}%", "width": f"{max(high - low, 0.5):.1f}%"}),
            html.I(className="one", style={"left": f"{_along(1.0):.1f}%"}),
            html.I(className="dot", style={"left": f"{value:.1f}%"}),
            html.Small(f"×{words.number(row['rate_ratio'], 1)}", style={"left": f"{min(high, 84.0):.1f}%"}),
        ],
        className="gauge",
        role="img",
        title=told,
        **attributes(aria_label=told),
    )


def _along(ratio: float) -> float:
    """Where a ratio lies along the gauge [per cent]."""
    inside = min(max(float(ratio), _LEAST), _MOST)
    return 100 * math.log(inside / _LEAST) / math.log(_MOST / _LEAST)
