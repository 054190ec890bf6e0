"""The words on screens in each language, and how it writes numbers, dates and times.

The English text is the key of a catalogue of PO files, one a topic and language, `shared/words/<language>/<topic>.po`;
an English text without an entry stays English.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from importlib.resources import files
from io import BytesIO
from types import MappingProxyType
from typing import Final, TypeAlias

from babel import Locale
from babel.dates import format_date
from babel.messages.pofile import read_po

from shared.errors import StrokeledgerError
from shared.languages import LANGUAGES as LANGUAGES
from shared.phrases import Amount, Joined, Phrase
from shared.phrases import key as key
from shared.reasons.files import REFUSAL
from shared.units import INCH, INCH_UNITS, METRIC, convert

THIN = "\u202f"
"""Stands between thousands in every language (ISO 80000-1), since a point or comma there is read in two ways."""

MINUS = "−"


Phrases: TypeAlias = Mapping[str, tuple[str, ...]]
"""English text -> its text in another language, or both of them where it counts something."""

_DATES: Mapping[str, tuple[str, str, str]] = MappingProxyType(
    {
        "en": ("EEE d MMM y", "EEE d MMM", "d MMM"),
        "es": ("EEE d MMM y", "EEE d MMM", "d MMM"),
        "de": ("EEE, d. MMM y", "EEE, d. MMM", "d. MMM"),
    }
)


@dataclass(frozen=True)
class Words:
    """One language, and the units in which amounts are told: `say` for its words, the rest for numbers and dates."""

    language: str
    phrases: Phrases
    decimal_sign: str
    _date: Callable[[dt.date, int], str] = field(repr=False)
    units: str = METRIC

    def say(self, text: str, /, **values: object) -> str:
        """The text in this language, its gaps filled; what fills them is never read as a pattern."""
        found = self.phrases.get(text, (text,))[0]
        return found.format(**values) if values else found

    def say_n(self, number: int, one: str, many: str, /, **values: object) -> str:
        """The text for one thing or for several; `{n}` in it is the number as this language writes it."""
        forms = self.phrases.get(one, (one, many))
        return forms[0 if number == 1 else -1].format(n=self.number(number), **values)

    def again(self, text: str) -> str:
        """What was said in English, in this language: a phrase with the phrases in it, or a key of the catalogue."""
        if not self.phrases:
            return text
        if isinstance(text, Joined):
            return text.joint.join(map(self.again, text.parts))
        if not isinstance(text, Phrase):
            return self.say(text)
        return self.say(text.key, **{name: self._filled(value) for name, value in text.values.items()})

    def _filled(self, value: object) -> object:
        if isinstance(value, Amount):
            return str(value).translate({ord(","): THIN, ord("."): self.decimal_sign, ord("-"): MINUS})
        return self.again(value) if isinstance(value, Phrase) else value

    def refusal(self, error: StrokeledgerError) -> str:
        """What an error says, in this language."""
        parts = {name: self.again(getattr(error, name)) for name in ("where", "seen", "expected", "mend")}
        return self.say(REFUSAL, **parts)

    def number(self, value: float, digits: int = 0) -> str:
        """A number with a fixed count of digits after the decimal sign and thin spaces between thousands; no −0."""
        text = f"{value:z,.{digits}f}".replace(",", THIN).replace("-", MINUS)
        return text if self.decimal_sign == "." else text.replace(".", self.decimal_sign)

    def unit(self, kept: str) -> str:
        """The unit in which an amount kept in `kept` (m, kg, mm, MPa, …) is shown."""
        return INCH_UNITS.get(kept, kept) if self.units == INCH else kept

    def amount(self, value: float, kept: str, digits: int = 0) -> str:
        """An amount [kept] with the unit it is shown in: "120 m", "394 ft"; a size in inches has two more digits."""
        shown = self.unit(kept)
        return f"{self.number(convert(value, kept, shown), digits + 2 if shown == 'in' else digits)}{THIN}{shown}"

    def per_cent(self, share: float, digits: int = 1) -> str:
        """A part of one in per cent."""
        return f"{self.number(100 * share, digits)}{THIN}%"

    def date(self, date: dt.date) -> str:
        """A date that no country reads wrongly: "Mon 2 Nov 2026"."""
        return self._date(date, 0)

    def short_date(self, date: dt.date) -> str:
        """A date where its year is plain: "Mon 2 Nov"."""
        return self._date(date, 1)

    def shortest_date(self, date: dt.date) -> str:
        """A date on an axis: "2 Nov"."""
        return self._date(date, 2)

    def duration(self, seconds: float) -> str:
        """Seconds as a supervisor says them: "45 s", "8 min", "1 h 20 min"; the signs are the same everywhere."""
        total = round(seconds)
        if total < 60:
            return f"{total}{THIN}s"
        minutes = round(total / 60)
        hours, rest = divmod(minutes, 60)
        if not hours:
            return f"{minutes}{THIN}min"
        return f"{hours}{THIN}h {rest}{THIN}min" if rest else f"{hours}{THIN}h"


@cache
def words(language: str, units: str = METRIC) -> Words:
    """The words of a language of LANGUAGES, amounts in METRIC or INCH units; KeyError for any other language."""
    if units != METRIC:
        return replace(words(language), units=units)
    patterns, locale = _DATES[language], Locale.parse(language)

    @cache
    def date_text(date: dt.date, kind: int) -> str:
        return format_date(date, patterns[kind], locale=locale)

    return Words(language, _phrases(language), locale.number_symbols["latn"]["decimal"], date_text)


def topics(language: str) -> dict[str, Phrases]:
    """The entries of each PO file of a language by topic; English has none, since it is the key."""
    if language == "en":
        return {}
    found = sorted(entry.name for entry in (files(__name__) / language).iterdir() if entry.name.endswith(".po"))
    return {name.removesuffix(".po"): _entries(language, name) for name in found}


def _entries(language: str, name: str) -> Phrases:
    catalogue = read_po(BytesIO((files(__name__) / language / name).read_bytes()), locale=language)
    entries: dict[str, tuple[str, ...]] = {}
    for message in catalogue:
        if message.id and not message.fuzzy:
            text = message.string or ""
            english = message.id if isinstance(message.id, str) else message.id[0]
            entries[english] = (text,) if isinstance(text, str) else tuple(text)
    return {key: texts for key, texts in entries.items() if all(texts)}


def _phrases(language: str) -> Phrases:
    return MappingProxyType({key: text for entries in topics(language).values() for key, text in entries.items()})


ENGLISH: Final = words("en")
