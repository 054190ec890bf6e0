"""What factors, their levels and certificate values are called in the shop, in a language and its units.

The reckoning names levels and tests in English, by a few patterns; a text that is built like one of them is put into
the language, names from files stay as they are.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Hashable, Mapping, Sequence
from typing import Any, Final

from shared.factors import BY_NAME
from shared.units import convert
from shared.words import Words

Row = Mapping[Hashable, Any]

_FACTORS: Final = {
    "lot": "lot",
    "heat": "heat",
    "supplier": "supplier",
    "cert": "certificate value",
    "coil_position": "place in the coil",
    "wear": "strokes since sharpening",
    "press": "press",
    "shift": "shift",
    "setup": "setting",
    "speed": "speed",
    "drift": "time",
}
_SIDES: Final = {
    **dict.fromkeys(("lot", "heat", "supplier", "cert", "coil_position"), "the coil"),
    "wear": "the die",
}
_RUN: Final = "the run"

#: Letters up to which a name tells two parts of a level.
_ROOM: Final = 60

_ALL_BUT: Final = "all but {name}"
_LEVELS: Final = (
    "rising with strokes since sharpening",
    "rising faster with strokes since sharpening",
    "rising late with strokes since sharpening",
    "falling with strokes since sharpening",
    "first {n} strokes since sharpening",
    "from {n} strokes since sharpening",
    "rising with strokes since setting",
    "falling with strokes since setting",
    "first {n} strokes since setting",
    "from {n} strokes since setting",
    "rising with strokes before the first sharpening that is known",
    "rising over time",
    "falling over time",
    "since {date}",
    "before {date}",
    "first {length}",
    "last {length}",
    "first and last {length}",
    "towards the end of the coil",
    "towards the start of the coil",
    "{name} high",
    "{name} low",
    "{name} from {value}",
    "{name} under {value}",
    "{press} set {time}",
)
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
_STATIONS: Final = ("{what}, station {stations}", "{what}, stations {stations}")

#: Gaps that hold a number.
_COUNTS: Final = ("n", "times", "usual", "bad")

#: What other gaps hold; the rest may hold anything.
_HOLD: Final = {**dict.fromkeys(_COUNTS, r"[\d.]+%?"), "length": r"[\d.]+ m"}


def factor(name: str, words: Words) -> str:
    """Return what a factor is called in the shop."""
    return words.say(_FACTORS.get(name, name))


def side(name: str, words: Words) -> str:
    """Return whether a factor is of the coil, the die or the run."""
    return words.say(_SIDES.get(name, _RUN))


def level(text: str, factor_name: str, words: Words) -> str:
    """Return a level of a factor in the language; names from files stay as they are."""
    if factor_name in BY_NAME:
        found = matched(_ALL_BUT, text)
        return words.say(_ALL_BUT, **found) if found else text
    return "; ".join(_level(part, words) for part in text.split("; "))


def _level(text: str, words: Words) -> str:
    found = matched(_ALL_BUT, text)
    if found:
        return words.say(_ALL_BUT, name=_level(found["name"], words))
    for pattern in _STATIONS:
        found = matched(pattern, text)
        if found:
            return words.say(pattern, what=_level(found["what"], words), stations=found["stations"])
    return translated(text, _LEVELS, words) or text


def named(line: Row, words: Words) -> str:
    """Return factor and level as one name: "lot LOT-0417"; a level that says its factor stands alone.

    Of a level of several parts those are named that a heading has room for; `level` tells them all.
    """
    if line["factor"] in BY_NAME:
        text = level(str(line["level"]), str(line["factor"]), words)
        return words.say("{factor} {level}", factor=factor(str(line["factor"]), words), level=text)
    parts = str(line["level"]).split("; ")
    shown = parts[: 2 if len("; ".join(parts[:2])) <= _ROOM else 1]
    text = level("; ".join(shown), str(line["factor"]), words)
    if len(parts) > len(shown):
        text = words.say("{level} and {n} more", level=text, n=words.number(len(parts) - len(shown)))
    if line["factor"] == "coil_position":
        return words.say("{factor}: {level}", factor=factor(str(line["factor"]), words), level=text)
    return text


def certificate(name: str, words: Words) -> str:
    """Return what a certificate value or own test is called, with its unit: `yield_mpa`, `thickness_own`."""
    bare, _, tail = name.rpartition("_")
    if not bare or tail not in {*_UNITS, *_SOURCES}:
        return words.say(_PROPERTIES.get(name, name))
    called = words.say(_PROPERTIES.get(bare, bare))
    if tail in _UNITS:
        return f"{called}, {words.unit(_UNITS[tail])}"
    return words.say("{value} ({source})", value=called, source=words.say(_SOURCES[tail]))


def certificate_unit(name: str) -> str:
    """Return the unit that a certificate value or own test is kept in, "" where it is not known."""
    bare, _, tail = name.rpartition("_")
    return _UNITS.get(tail) or _PROPERTY_UNITS.get(bare or name, "")


def translated(text: str, patterns: Sequence[str], words: Words) -> str:
    """Return a text built like one of the patterns in the language, "" for one that is like none."""
    for pattern in patterns:
        found = matched(pattern, text)
        if found is not None:
            return words.say(pattern, **numbers(found, words))
    return ""


def matched(pattern: str, text: str) -> dict[str, str] | None:
    """Return what fills the gaps of a pattern in a text, None where the text is not built like it."""
    parts = re.split(r"\{(\w+)\}", pattern)
    gap = {name: _HOLD.get(name, ".+?") for name in parts[1::2]}
    built = "".join(re.escape(part) if at % 2 == 0 else f"(?P<{part}>{gap[part]})" for at, part in enumerate(parts))
    found = re.fullmatch(built, text)
    return found.groupdict() if found else None


def numbers(gaps: Mapping[str, str], words: Words) -> dict[str, str]:
    """Write counts as the language does; names and everything else stay."""
    told = dict(gaps)
    for name in _COUNTS:
        if name in told:
            number, _, digits = told[name].rstrip("%").partition(".")
            sign = "\u202f%" if told[name].endswith("%") else ""
            told[name] = words.number(float(f"{number}.{digits or 0}"), len(digits)) + sign
    if "length" in told:
        told["length"] = words.amount(float(told["length"].removesuffix(" m")), "m")
    if "value" in told and "name" in told:
        told["value"] = _value(told["value"], certificate_unit(told["name"]), words)
    if "name" in told:
        told["name"] = certificate(told["name"], words)
    for name in ("time", "date"):
        if name in told and re.match(r"\d{4}-\d\d-\d\d", told[name]):
            clock = told[name][11:16]
            told[name] = words.short_date(dt.date.fromisoformat(told[name][:10])) + (f" {clock}" if clock else "")
    return told


def _value(text: str, unit: str, words: Words) -> str:
    """Write a limit of a certificate value in the unit it is shown in; what has no other stays as it is."""
    shown = words.unit(unit)
    if shown == unit:
        return text
    return words.number(convert(float(text), unit, shown), 4 if shown == "in" else 1)
