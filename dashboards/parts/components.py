"""Small pieces of HTML that more than one page draws."""

from __future__ import annotations

import json
import logging
from collections.abc import Callable
from typing import Any

from dash import dcc, html
from plotly.io.json import to_json_plotly

from dashboards.ledger.version import LedgerVersion
from dashboards.parts.numbers import Number
from dashboards.request.formats import UNKNOWN
from dashboards.request.locale import locale, say, say_error
from shared.errors import StrokeledgerError

_log = logging.getLogger(__name__)


def attributes(**values: str) -> Any:
    """Attributes with a hyphen in their name, which Python cannot write: `aria_label` is `aria-label`."""
    return {name.replace("_", "-"): value for name, value in values.items()}


def draw_cached(reading: LedgerVersion, asked: tuple[str, ...], draw: Callable[[], list[Any]]) -> list[Any]:
    """What `draw` gives for a question, drawn once for everybody with the same language and units.

    Kept as text, which takes a tenth of the room of components and is read again in milliseconds.
    """
    text = reading.cached(("drawn", *asked, *locale().key), lambda: to_json_plotly(draw()))
    sent: list[Any] = json.loads(text)
    return sent


def number(shown: Number) -> Any:
    """A number with its label above and what it rests on below; to stand in a definition list."""
    looks = ("value", "unknown" if shown.value == UNKNOWN else "")
    lines = [html.Dd(line, className="below") for line in shown.below if line]
    value = html.Dd(shown.value, className=" ".join(looks).strip())
    return html.Div([html.Dt(shown.label), value, *lines], className="number loud" if shown.loud else "number")


def lack(sentence: str) -> Any:
    """What stands where there is nothing to show: what is lacking and what to do."""
    return html.P(sentence, className="lack", role="status")


def failure(error: Exception) -> Any:
    """What stands in place of figures that could not be read; the log keeps the whole story."""
    if isinstance(error, StrokeledgerError):
        _log.error("a page could not be drawn", exc_info=error)
    return html.P([say("The figures could not be read."), " ", say_error(error)], className="lack fault", role="alert")


def list_words() -> dcc.Dropdown.Labels:
    """What a list to choose from says of itself, which the component library would say in English."""
    return {
        "search": say("Search"),
        "clear_search": say("Clear the search"),
        "clear_selection": say("Clear the choice"),
        "no_options_found": say("Nothing found"),
    }
