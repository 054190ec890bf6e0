"""What every page stands in: the strip of stations to choose from, the caution, the theme and the offline notice."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from dashboards import ids
from dashboards.elements import attributes
from dashboards.page import Door, Page
from dashboards.url import View
from monitor.charts.style import DARK, FONT, LIGHT, Palette

CAUTION = (
    "Reads files after the event. It is not a safety device and controls no press; "
    "nobody reaches into a die on its word."
)

EARLY_THEME = (
    'try{var t=localStorage.getItem("strokeledger-theme");if(t)document.documentElement.dataset.theme=t}catch(e){}'
)
"""Runs before the first paint, or a page in the other theme would flash up."""

_DOCUMENT = """<!DOCTYPE html>
<html lang="en">
<head>
{{%metas%}}
<title>{{%title%}}</title>
<script>{early}</script>
<style>{tokens}</style>
<link rel="icon" type="image/svg+xml" href="/assets/mark.svg">
{{%css%}}
</head>
<body>
{{%app_entry%}}
<footer>{{%config%}}{{%scripts%}}{{%renderer%}}</footer>
</body>
</html>"""


def document() -> str:
    """The HTML document Dash fills: theme before the first paint, colours from the one style."""
    return _DOCUMENT.format(early=EARLY_THEME, tokens=tokens_css())


def tokens_css() -> str:
    """The palettes as CSS custom properties: light, dark by the system's wish, and either by the switch."""
    light, dark = _tokens(LIGHT, "light"), _tokens(DARK, "dark")
    return (
        f":root{{{light}}}"
        f"@media (prefers-color-scheme: dark){{:root:not([data-theme=light]){{{dark}}}}}"
        f":root[data-theme=dark]{{{dark}}}"
    )


def shell(door: Door, pages: tuple[Page, ...]) -> Any:
    """The layout around every page."""
    calendar = door.read().calendar()
    return html.Div(
        [
            dcc.Location(id=ids.URL, refresh=False),
            dcc.Store(id=ids.THEME),
            html.Div(
                [
                    dcc.Link("strokeledger", href="/", className="brand"),
                    html.Nav(nav(pages, ""), id=ids.NAV, className="stations", **attributes(aria_label="Pages")),
                    html.Span(calendar.plant.name if calendar else "", className="plant"),
                    html.Button("Dark", id=ids.THEME_SWITCH, className="theme"),
                ],
                className="bar",
            ),
            html.P(CAUTION, className="caution"),
            html.P("The server does not answer: what you see may be old.", className="offline", role="alert"),
            html.Main(id=ids.PAGE),
        ],
        className="shell",
    )


def nav(pages: tuple[Page, ...], path: str) -> list[Any]:
    """A link a page, the page that is shown marked."""
    return [
        dcc.Link(page.name, href=page.path, className="station here" if page.path == path else "station")
        for page in pages
    ]


def route(door: Door, pages: tuple[Page, ...], path: str | None, search: str | None) -> tuple[Any, list[Any]]:
    """The page of a path with the navigation that marks it; an unknown path says which pages there are."""
    path = (path or "/").rstrip("/") or "/"
    for page in pages:
        if page.path == path:
            return page.layout(door.read(), View.parse(search)), nav(pages, path)
    names = ", ".join(page.name for page in pages)
    return html.P(f"There is no page at this address. Pages: {names}.", className="lack"), nav(pages, path)


def _tokens(colours: Palette, scheme: str) -> str:
    plain = {name: value for name, value in vars(colours).items() if isinstance(value, str)}
    kinds = {f"kind-{kind}": value for kind, value in colours.kinds.items()}
    named = {name.replace("_", "-"): value for name, value in (plain | kinds).items()}
    return f"color-scheme:{scheme};--font:{FONT};" + "".join(f"--{name}:{value};" for name, value in named.items())
