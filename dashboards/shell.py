"""What every page stands in: the strip of stations to choose from, the caution, the theme and the offline notice."""

from __future__ import annotations

import json
from html import escape
from typing import Any

from dash import dcc, html

from dashboards import ids
from dashboards.ledger.service import LedgerService
from dashboards.parts.components import attributes
from dashboards.parts.page import Page
from dashboards.request.locale import INCH, METRIC, key, locale, say
from dashboards.request.url import View
from monitor.charts.style import DARK, FONT, LIGHT, Palette
from shared.words import LANGUAGES

CAUTION = key(
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


_SCRIPT_WORDS = (
    key("Dark"),
    key("Light"),
    key("{age} ago"),
    key("days"),
    key("Waiting for the server."),
    key("The server did not answer. See whether it was entered before you try again."),
)


def document() -> str:
    """The HTML document Dash fills: theme before the first paint, colours from the one style."""
    return _DOCUMENT.format(early=EARLY_THEME, tokens=tokens_css())


def in_language(document: str) -> str:
    """The document with the language of whoever looks, and the words that scripts write."""
    words = {word: say(word) for word in _SCRIPT_WORDS}
    told = escape(json.dumps(words, ensure_ascii=False), quote=True)
    opening = f'<html lang="{locale().language}" data-words="{told}">'
    return document.replace('<html lang="en">', opening, 1)


def tokens_css() -> str:
    """The palettes as CSS custom properties: light, dark by the system's wish, and either by the switch."""
    light, dark = _tokens(LIGHT, "light"), _tokens(DARK, "dark")
    return (
        f":root{{{light}}}"
        f"@media (prefers-color-scheme: dark){{:root:not([data-theme=light]){{{dark}}}}}"
        f":root[data-theme=dark]{{{dark}}}"
    )


def shell(service: LedgerService, pages: tuple[Page, ...]) -> Any:
    """The layout around every page."""
    return html.Div(
        [
            dcc.Location(id=ids.URL, refresh=False),
            dcc.Store(id=ids.THEME),
            html.Header([_bar(service, pages), *_notices()]),
            html.Main(id=ids.PAGE, tabIndex=-1),
        ],
        className="shell",
    )


def _bar(service: LedgerService, pages: tuple[Page, ...]) -> Any:
    calendar = service.read().calendar()
    return html.Div(
        [
            html.A(say("Skip to the page"), href=f"#{ids.PAGE}", className="skip"),
            dcc.Link("strokeledger", href="/", className="brand"),
            html.Nav(nav(pages, ""), id=ids.NAV, className="stations", **attributes(aria_label=say("Pages"))),
            html.Span(calendar.plant.name if calendar else "", className="plant"),
            *_locale_switches(),
            html.Button(say("Dark"), id=ids.THEME_SWITCH, className="switch theme"),
        ],
        className="bar",
    )


def _notices() -> list[Any]:
    silent = say("The server does not answer: what you see may be old.")
    return [html.P(say(CAUTION), className="caution"), html.P(silent, className="offline", role="alert")]


def _locale_switches() -> list[Any]:
    """Switches of language and units; assets/locale.js keeps what is chosen and loads the page anew."""
    now = locale()
    languages = [
        html.Button(
            language.upper(),
            lang=language,
            title=name,
            className="switch language",
            **attributes(
                data_lang=language,
                aria_pressed=str(language == now.language).lower(),
                aria_label=f"{language.upper()} {name}",
            ),
        )
        for language, name in LANGUAGES.items()
    ]
    other, label, name = (METRIC, "m, kg", say("Metric")) if now.units == INCH else (INCH, "ft, lb", say("Inch, pound"))
    units = html.Button(label, title=name, className="switch", **attributes(data_units=other))
    return [html.Div(languages, className="languages", role="group", **attributes(aria_label=say("Language"))), units]


def nav(pages: tuple[Page, ...], path: str) -> list[Any]:
    """A link a page, the page that is shown marked, or the one it stands within."""
    here = next((page.within for page in pages if page.path == path), "") or path
    return [
        dcc.Link(say(page.name), href=page.path, className="station here" if page.path == here else "station")
        for page in pages
        if not page.within
    ]


def route(
    service: LedgerService, pages: tuple[Page, ...], path: str | None, search: str | None
) -> tuple[Any, list[Any]]:
    """The page of a path with the navigation that marks it; an unknown path says which pages there are."""
    path = (path or "/").rstrip("/") or "/"
    for page in pages:
        if page.path == path:
            return page.layout(service.read(), View.parse(search)), nav(pages, path)
    names = ", ".join(say(page.name) for page in pages)
    told = say("There is no page at this address. Pages: {names}.", names=names)
    return html.P(told, className="lack"), nav(pages, path)


def _tokens(colours: Palette, scheme: str) -> str:
    plain = {name: value for name, value in vars(colours).items() if isinstance(value, str)}
    kinds = {f"kind-{kind}": value for kind, value in colours.kinds.items()}
    named = {name.replace("_", "-"): value for name, value in (plain | kinds).items()}
    return f"color-scheme:{scheme};--font:{FONT};" + "".join(f"--{name}:{value};" for name, value in named.items())
