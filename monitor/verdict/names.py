"""What factors, their levels and certificate values are called in the shop, in a language and its units."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Final

from monitor.verdict.writers import ValueWriter, WordsWriter
from shared.factors import BY_NAME, Explanation, Level, LevelCode, Setting
from shared.words import Words

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

#: The words of each level; `{what}` of one with stations.
LEVELS: Mapping[LevelCode, str] = MappingProxyType(
    {
        "is": "{name}",
        "all_but": "all but {name}",
        "coil": "coil {name}",
        "coil_of_lot": "{lot} coil {name}",
        "sharpening_rising": "rising with strokes since sharpening",
        "sharpening_rising_faster": "rising faster with strokes since sharpening",
        "sharpening_rising_late": "rising late with strokes since sharpening",
        "sharpening_falling": "falling with strokes since sharpening",
        "sharpening_first": "first {n} strokes since sharpening",
        "sharpening_from": "from {n} strokes since sharpening",
        "before_sharpening_rising": "rising with strokes before the first sharpening that is known",
        "setting_rising": "rising with strokes since setting",
        "setting_falling": "falling with strokes since setting",
        "setting_first": "first {n} strokes since setting",
        "setting_from": "from {n} strokes since setting",
        "time_rising": "rising over time",
        "time_falling": "falling over time",
        "time_since": "since {date}",
        "time_before": "before {date}",
        "coil_first": "first {length}",
        "coil_last": "last {length}",
        "coil_ends": "first and last {length}",
        "coil_towards_end": "towards the end of the coil",
        "coil_towards_start": "towards the start of the coil",
        "value_high": "{name} high",
        "value_low": "{name} low",
        "value_from": "{name} from {value}",
        "value_under": "{name} under {value}",
    }
)
_STATIONS: Final = ("{what}, station {stations}", "{what}, stations {stations}")


def level(explanation: Explanation, words: Words) -> str:
    """Return the levels of an explanation in the language; names from files stay as they are."""
    return level_text(explanation.levels, WordsWriter(words))


def level_text(levels: Sequence[Level], to: ValueWriter) -> str:
    """Return levels as a writer writes them, the one that tells most first."""
    return "; ".join(_level(one, to) for one in levels)


def _level(one: Level, to: ValueWriter) -> str:
    told = to.say(LEVELS[one.code], **_values(one, to))
    if not one.stations:
        return told
    return to.say(_STATIONS[len(one.stations) > 1], what=told, stations=", ".join(map(str, one.stations)))


def _values(one: Level, to: ValueWriter) -> dict[str, str]:
    """Return what fills the gaps of a level."""
    values: dict[str, str] = {"lot": one.lot}
    if isinstance(one.name, Setting):
        values["name"] = to.setting(one.name)
    else:
        values["name"] = to.measured(one.name) if one.code.startswith("value_") else one.name
    if one.number is None:
        return values
    if one.code.startswith("value_"):
        return values | {"value": to.amount(str(one.name), one.number)}
    if one.code.startswith("time_"):
        return values | {"date": to.day(one.number)}
    if one.code.startswith("coil_"):
        return values | {"length": to.length(one.number)}
    return values | {"n": to.number(one.number)}


def factor(name: str, words: Words) -> str:
    """Return what a factor is called in the shop."""
    return words.say(_FACTORS.get(name, name))


def side(name: str, words: Words) -> str:
    """Return whether a factor is of the coil, the die or the run."""
    return words.say(_SIDES.get(name, _RUN))


def named(explanation: Explanation, words: Words) -> str:
    """Return factor and level as one name: "lot LOT-0417"; a level that says its factor stands alone.

    Of several levels those are named that a heading has room for; `level` tells them all.
    """
    called, levels, to = factor(explanation.factor, words), explanation.levels, WordsWriter(words)
    if explanation.factor in BY_NAME:
        return words.say("{factor} {level}", factor=called, level=level_text(levels, to))
    two = level_text(levels[:2], to)
    shown, text = (2, two) if len(two) <= _ROOM else (1, level_text(levels[:1], to))
    if len(levels) > shown:
        text = words.say("{level} and {n} more", level=text, n=words.number(len(levels) - shown))
    return words.say("{factor}: {level}", factor=called, level=text) if explanation.factor == "coil_position" else text


def setting(name: str | Setting, words: Words) -> str:
    """Return press and moment of a setting, or its name where only that is known."""
    return WordsWriter(words).setting(name) if isinstance(name, Setting) else name


def certificate(name: str, words: Words) -> str:
    """Return what a certificate value or own test is called, with its unit: `yield_mpa`, `thickness_own`."""
    return WordsWriter(words).measured(name)
