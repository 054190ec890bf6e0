"""How the values of a verdict are written: in the figure table as plain English, on screens and papers in words."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Final, Protocol

from shared.factors import Setting
from shared.units import convert
from shared.words import Words

_PROPERTIES: Final = {
    "yield": "yield strength",
    "tensile": "tensile strength",
    "elongation": "elongation",
    "hardness": "hardness",
    "thickness": "thickness",
}
_UNITS: Final = {"mpa": "MPa", "pct": "%", "hv": "HV", "mm": "mm"}
_PROPERTY_UNITS: Final = {"yield": "MPa", "tensile": "MPa", "elongation": "%", "hardness": "HV", "thickness": "mm"}
_SOURCES: Final = {"certificate": "certificate", "own": "own test"}
_EPOCH: Final = dt.date(1970, 1, 1)


class ValueWriter(Protocol):
    """Writes sentences and the values in them."""

    def say(self, text: str, /, **values: object) -> str:
        """Return an English sentence in the language, its gaps filled."""

    def number(self, value: float, digits: int = 0) -> str:
        """Return a number with so many digits after the decimal sign."""

    def share(self, share: float) -> str:
        """Return a share [1] in per cent, to a hundredth."""

    def length(self, length_m: float) -> str:
        """Return a length [m] with its unit."""

    def day(self, day: float) -> str:
        """Return the date of a day [days since 1970]."""

    def setting(self, setting: Setting) -> str:
        """Return press and moment of a setting."""

    def measured(self, name: str) -> str:
        """Return what a certificate value, an own test or the speed is called."""

    def amount(self, name: str, value: float) -> str:
        """Return how much of what is measured under a name."""


class TableWriter:
    """Writes as the figure table does: English, numbers and dates as files have them, values under their columns."""

    def say(self, text: str, /, **values: object) -> str:
        """Return the sentence, its gaps filled."""
        return text.format(**values) if values else text

    def number(self, value: float, digits: int = 0) -> str:
        """Return a number with a decimal point: "39684"."""
        return f"{value:.{digits}f}"

    def share(self, share: float) -> str:
        """Return a share [1] in per cent: "0.12%"."""
        return f"{share:.2%}"

    def length(self, length_m: float) -> str:
        """Return a length [m] in metres: "80 m"."""
        return f"{length_m:.0f} m"

    def day(self, day: float) -> str:
        """Return the date of a day [days since 1970]: "2026-10-19"."""
        return _date(day).isoformat()

    def setting(self, setting: Setting) -> str:
        """Return press and moment: "P1 set 2026-10-19T06:30"."""
        return str(setting)

    def measured(self, name: str) -> str:
        """Return the name."""
        return name

    def amount(self, name: str, value: float) -> str:
        """Return a value [unit of its name] to four digits: "231.5"."""
        return f"{value:.4g}"


@dataclass(frozen=True)
class WordsWriter:
    """Writes in the language and the units of `words`."""

    words: Words

    def say(self, text: str, /, **values: object) -> str:
        """Return the sentence in the language, its gaps filled."""
        return self.words.say(text, **values)

    def number(self, value: float, digits: int = 0) -> str:
        """Return a number as the language writes it."""
        return self.words.number(value, digits)

    def share(self, share: float) -> str:
        """Return a share [1] in per cent."""
        return self.words.per_cent(share, 2)

    def length(self, length_m: float) -> str:
        """Return a length [m] in the unit that it is shown in."""
        return self.words.amount(length_m, "m")

    def day(self, day: float) -> str:
        """Return the date of a day [days since 1970]."""
        return self.words.short_date(_date(day))

    def setting(self, setting: Setting) -> str:
        """Return press, date and clock time."""
        at = dt.datetime.fromisoformat(setting.set_at)
        time = f"{self.words.short_date(at.date())} {at:%H:%M}"
        return self.words.say("{press} set {time}", press=setting.press_id, time=time)

    def measured(self, name: str) -> str:
        """Return what it is called, with the unit that it is shown in: `yield_mpa`, `thickness_own`, `speed`."""
        bare, _, tail = name.rpartition("_")
        if not bare or tail not in {*_UNITS, *_SOURCES}:
            return self.words.say(_PROPERTIES.get(name, name))
        called = self.words.say(_PROPERTIES.get(bare, bare))
        if tail in _UNITS:
            return f"{called}, {self.words.unit(_UNITS[tail])}"
        return self.words.say("{value} ({source})", value=called, source=self.words.say(_SOURCES[tail]))

    def amount(self, name: str, value: float) -> str:
        """Return a value in the unit that it is shown in."""
        kept = certificate_unit(name)
        shown = self.words.unit(kept)
        if shown != kept:
            return self.words.number(convert(value, kept, shown), 4 if shown == "in" else 1)
        _, _, decimals = f"{float(f'{value:.4g}'):f}".rstrip("0").partition(".")
        return self.words.number(value, len(decimals))


def certificate_unit(name: str) -> str:
    """Return the unit that a certificate value or own test is kept in, "" where it is not known."""
    bare, _, tail = name.rpartition("_")
    return _UNITS.get(tail) or _PROPERTY_UNITS.get(bare or name, "")


def _date(day: float) -> dt.date:
    return _EPOCH + dt.timedelta(days=int(day))
