"""How the person who looks is spoken to: their language and units.

Taken from the address (`lang`, `units`), else a cookie, else what the browser asks for; in force for one request.
"""

from __future__ import annotations

import logging
from collections.abc import Container, Mapping
from contextvars import ContextVar
from dataclasses import dataclass

from flask import Flask, Response, request
from werkzeug.datastructures import LanguageAccept

from shared.durations import DAY_S
from shared.errors import StrokeledgerError
from shared.units import INCH as INCH
from shared.units import METRIC as METRIC
from shared.words import LANGUAGES, Words, words
from shared.words import key as key

UNITS = (METRIC, INCH)

LANGUAGE_KEY = "lang"
UNITS_KEY = "units"
"""Names in the address; those of the cookies begin with the product, since a host may serve more than this."""

_log = logging.getLogger(__name__)

_YEAR_S = 365 * DAY_S


@dataclass(frozen=True)
class Locale:
    """Language and units of whoever looks."""

    language: str = "en"
    units: str = METRIC

    @property
    def words(self) -> Words:
        """The words of the language."""
        return words(self.language, self.units)

    @property
    def key(self) -> tuple[str, str]:
        """Stands in the name of whatever is kept of a page, which holds words and numbers of this locale."""
        return self.language, self.units


_in_force: ContextVar[Locale | None] = ContextVar("locale", default=None)


def locale() -> Locale:
    """The locale of the request that is being answered; English and metric outside one."""
    return _in_force.get() or Locale()


def use_locale(chosen: Locale | None) -> None:
    """Put a locale in force for what follows in this thread; None ends it."""
    _in_force.set(chosen)


def say(text: str, /, **values: object) -> str:
    """The text in the language of whoever looks, its gaps filled: `say("{n} of {all} run", n=3, all=5)`."""
    return locale().words.say(text, **values)


def say_n(number: int, one: str, many: str, /, **values: object) -> str:
    """The text for one thing or several; `{n}` is the number: `say_n(3, "{n} piece", "{n} pieces")`."""
    return locale().words.say_n(number, one, many, **values)


def say_again(text: str) -> str:
    """A phrase in the language of whoever looks; a text that is none stays as it is."""
    return locale().words.again(text)


def say_error(error: Exception) -> str:
    """What an error says, in the language of whoever looks; of one that nobody thought of, its kind."""
    if isinstance(error, StrokeledgerError):
        return locale().words.refusal(error)
    _log.error("an answer failed", exc_info=error)
    return say("{kind}; the server's log says more.", kind=type(error).__name__)


def cookie(name: str) -> str:
    """Name of the cookie of a name in the address; assets/locale.js writes it too."""
    return f"strokeledger-{name}"


def asked(query: Mapping[str, str], cookies: Mapping[str, str], accepts: LanguageAccept) -> Locale:
    """The locale that an address, the cookies or the browser's languages ask for, in this order."""
    language = _first(LANGUAGES, query.get(LANGUAGE_KEY), cookies.get(cookie(LANGUAGE_KEY)))
    units = _first(UNITS, query.get(UNITS_KEY), cookies.get(cookie(UNITS_KEY)))
    return Locale(language or accepts.best_match(LANGUAGES) or "en", units or METRIC)


def follow_requests(server: Flask) -> None:
    """Let every request of a server be answered in the locale it asks for, and remember one named in an address."""

    def begin() -> None:
        use_locale(asked(request.args, request.cookies, request.accept_languages))

    def remember(response: Response) -> Response:
        for name, chosen in ((LANGUAGE_KEY, locale().language), (UNITS_KEY, locale().units)):
            if request.args.get(name) == chosen:
                response.set_cookie(cookie(name), chosen, max_age=_YEAR_S, samesite="Lax")
        return response

    server.before_request(begin)
    server.after_request(remember)
    server.teardown_request(lambda _error: use_locale(None))


def _first(known: Container[str | None], *wishes: str | None) -> str | None:
    return next((wish for wish in wishes if wish in known), None)
