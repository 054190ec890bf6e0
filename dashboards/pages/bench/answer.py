"""The left of the bench page and its answer: every die and cause with its headline, and the ranked lines of one."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from typing import Any

from dash import dcc, html

from dashboards.pages.bench import BENCH_CAUSE, BENCH_DIE, BENCH_ROWS
from dashboards.pages.bench.model import Bench, BenchView
from dashboards.parts.components import attributes, list_words
from dashboards.parts.download import download_links
from dashboards.request.formats import count
from dashboards.request.locale import locale, say, say_n
from monitor.figures.judgement.bench import GIVEN
from monitor.reckoning.attribution.suspects import Suspect
from monitor.verdict import names as naming
from monitor.verdict import sentences as telling
from monitor.verdict.advice import next_test
from monitor.verdict.table import table_level

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
            html.Label([say("Die"), _dropdown(die_options, view.die, BENCH_DIE)]),
            html.Label([say("Cause"), _dropdown(cause_options, view.cause, BENCH_CAUSE)]),
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
        [
            _badge(row["verdict"]),
            html.B(f"{row['die_id']} · {name}" if name else row["die_id"]),
            html.Small(_headline(row)),
        ],
        href=f"/bench{view.search}",
        className=f"case is-{row['verdict'] or 'none'}{' here' if here else ''}",
    )
    return html.Li(link, **(attributes(aria_current="true") if here else {}))


def _badge(verdict: str) -> Any:
    return html.Span(telling.verdict(verdict, locale().words), className="verdict")


def _headline(row: Row) -> str:
    words, line = locale().words, row["line"]
    if line is not None and line.verdict in GIVEN:
        times = words.number(line.rate_ratio, 1)
        return say("{line}, {times} times", line=naming.named(line.explanation, words), times=times)
    return say("{rejected} of {inspected}", rejected=count(row["rejected"]), inspected=count(row["inspected"]))


def answer_html(shown: BenchView, bench: Bench) -> Any:
    """The lines that act or are tied, each in full; that there is none is an answer too."""
    lines = bench.case.lines
    given = [_line(shown, bench, at, line) for at, line in enumerate(lines) if line.verdict in GIVEN]
    takes = download_links("suspects", shown.view)
    parts: list[Any] = [html.Div([html.H2(_verdict_title(lines)), takes], className="panel-head")]
    if given:
        parts.append(html.Ol(given, className="lines"))
        parts.append(html.P(say(telling.CAUTION), className="lockout"))
    return html.Section(parts, className="panel answer")


def silent_html(shown: BenchView, bench: Bench) -> list[Any]:
    """The factors of which nothing stands out, each with its strongest level; none where every factor is a line."""
    silent = [_silent(shown, at, line) for at, line in enumerate(bench.case.lines) if line.verdict not in GIVEN]
    if not silent:
        return []
    return [
        html.Section([html.H2(say("What else was looked at")), html.Ul(silent, className="silents")], className="panel")
    ]


def _verdict_title(lines: Sequence[Suspect]) -> str:
    given = [line for line in lines if line.verdict in GIVEN]
    if not given:
        few = any(line.verdict == "not_enough" for line in lines)
        return say("Not enough yet: nothing stands out") if few else say("Nothing stands out from what was looked at")
    sides = ", ".join(dict.fromkeys(naming.side(line.explanation.factor, locale().words) for line in given))
    if any(line.verdict == "tied" for line in given):
        return say("These data cannot tell yet between: {sides}", sides=sides)
    return say("What acts: {sides}", sides=sides)


def _line(shown: BenchView, bench: Bench, at: int, line: Suspect) -> Any:
    words, sides, told_by = locale().words, bench.given[at], line.explanation
    whole, name = naming.level(told_by, words), naming.named(told_by, words)
    facts = [
        *([whole] if whole not in name else []),
        telling.times(line, words),
        " · ".join(part for part in (telling.pieces(line, words), telling.chance(line, words)) if part),
    ]
    points = telling.against(line, sides.bad, sides.compared, words) if sides else []
    against = " ".join(points) or say("Nothing in these data.")
    told = [
        html.H3([_badge(line.verdict), html.Span(name), html.Small(naming.side(told_by.factor, words))]),
        _gauge(line),
        *[html.P(fact) for fact in facts],
        html.P([html.B(say("Against it")), against]),
        html.P([html.B(say("Where")), telling.open_first(bench.stations, words) or say("No station of this die.")]),
        html.P([html.B(say("Next")), next_test(line.next_test, words)]),
        _show_rows(shown, at, line),
    ]
    return html.Li(told, className=f"line is-{line.verdict}{' here' if at == shown.chosen else ''}")


def _show_rows(shown: BenchView, at: int, line: Suspect) -> Any:
    if at == shown.chosen:
        return html.A(say("Its rows are shown below"), href=f"#{BENCH_ROWS}", className="rows-of")
    return dcc.Link(say("Show its rows"), href=_address(shown, line), className="rows-of")


def _address(shown: BenchView, line: Suspect) -> str:
    view = shown.view.but(scope=line.explanation.factor, value=table_level(line.explanation))
    return f"/bench{view.search}"


def _silent(shown: BenchView, at: int, line: Suspect) -> Any:
    """A factor of which nothing stands out: its strongest level and what that means."""
    words, told_by = locale().words, line.explanation
    return html.Li(
        [
            _badge(line.verdict),
            dcc.Link(naming.factor(told_by.factor, words), href=_address(shown, line), className="factor"),
            _gauge(line),
            html.Span(say("most: {level}", level=naming.level(told_by, words)), className="most"),
            html.Span(next_test(line.next_test, words), className="enough"),
        ],
        className=f"silent is-{line.verdict}{' here' if at == shown.chosen else ''}",
    )


def _gauge(line: Suspect) -> Any:
    """The ratio with its interval on a scale of doublings; 1 is the line in it."""
    words = locale().words
    if math.isnan(line.rate_ratio):
        return html.Span("", className="gauge")
    low, value, high = (_along(ratio) for ratio in (line.ratio_low, line.rate_ratio, line.ratio_high))
    told = telling.times(line, words)
    return html.Div(
        [
            html.I(className="span", style={"left": f"{low:.1f}%", "width": f"{max(high - low, 0.5):.1f}%"}),
            html.I(className="one", style={"left": f"{_along(1.0):.1f}%"}),
            html.I(className="dot", style={"left": f"{value:.1f}%"}),
            html.Small(f"×{words.number(line.rate_ratio, 1)}", style={"left": f"{min(high, 84.0):.1f}%"}),
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
