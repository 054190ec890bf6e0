"""A line of the verdict in words a toolmaker would use: what, how much, how sure, what speaks against it, what next.

Sentences are built here once, for screens and papers, from the figures of a line and the rows behind it.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Hashable, Mapping, Sequence
from typing import Any, Final

import numpy as np
import pandas as pd

from shared.units import convert
from shared.words import Words

Row = Mapping[Hashable, Any]

#: Fewer rejects than this are few to rest anything on; common practice, no source.
FEW_REJECTS: Final = 10
#: A rate that may be only this many times the usual is hardly worth opening a die for; common practice, no source.
LITTLE: Final = 1.5
#: By hand and by the model may differ by this much before it is said.
APART: Final = 0.25

CAUTION: Final = (
    "Before anyone looks into the die: press stopped, isolated and locked out, slide and die blocked, strip cleared; "
    "only trained and appointed people, under the rules of the site."
)

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

VERDICTS: Final = {
    "acts": "Acts",
    "tied": "Tied",
    "clear": "Clear",
    "not_enough": "Not enough yet",
    "": "No rejects",
}

#: Parts of a level that a name holds.
_MOST_PARTS: Final = 2

#: Factors whose levels are names from files.
_BY_NAME: Final = frozenset({"lot", "heat", "supplier", "press", "shift"})
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

_TESTS: Final = (
    "Run another lot in the same die state and then {level} again",
    "Run another coil of the same lot in the same die state and then this one again",
    "Run another heat in the same die state and then {level} again",
    "Run a coil of another supplier in the same die state and then {level} again",
    "Run coils from both ends of the certificate value in the same die state",
    "Check pieces from that stretch of the next coils and as many from the middle",
    "Check pieces just before the next sharpening and as many after it, on one lot",
    "Run the same coil on another press and on this one",
    "Check the same coil and die state in both shifts",
    "Set the die again on the same coil and compare before and after",
    "Check the first pieces after the next settings and as many from later in the run",
    "Run the same coil at both speeds",
    "Note what changed at that time, change one thing back and compare before and after",
    "Run lot {lot} on a sharp die, or another lot on the dull one",
    "Run {one} without {other}, or the other way round",
    "Inspect more pieces: there are too few rejects to tell anything.",
    "Inspect about {n} more pieces in each level to see a rate {times} times the usual.",
    "Nothing to run: a level at {times} times the rate would have shown.",
)
_AMOUNTS: Final = (
    "{test}: about {n} pieces on either side tell {usual} from {bad}.",
    "{test}: the more pieces the better.",
)
#: Gaps that hold a number.
_COUNTS: Final = ("n", "times", "usual", "bad")
#: What other gaps hold; the rest may hold anything.
_HOLD: Final = {**dict.fromkeys(_COUNTS, r"[\d.]+%?"), "length": r"[\d.]+ m"}
_SAFETY: Final = " Stop, isolate and lock out, and block the slide before anyone looks into the die."


def verdict(line: Row, words: Words) -> str:
    """Return the verdict in a word or two."""
    return words.say(VERDICTS.get(str(line["verdict"]), str(line["verdict"])))


def factor(name: str, words: Words) -> str:
    """Return what a factor is called in the shop."""
    return words.say(_FACTORS.get(name, name))


def side(name: str, words: Words) -> str:
    """Return whether a factor is of the coil, the die or the run."""
    return words.say(_SIDES.get(name, _RUN))


def level(text: str, factor_name: str, words: Words) -> str:
    """Return a level of a factor in the language; names from files stay as they are."""
    if factor_name in _BY_NAME:
        found = _match(_ALL_BUT, text)
        return words.say(_ALL_BUT, **found) if found else text
    return "; ".join(_level(part, words) for part in text.split("; "))


def _level(text: str, words: Words) -> str:
    found = _match(_ALL_BUT, text)
    if found:
        return words.say(_ALL_BUT, name=_level(found["name"], words))
    for pattern in _STATIONS:
        found = _match(pattern, text)
        if found:
            return words.say(pattern, what=_level(found["what"], words), stations=found["stations"])
    return _translated(text, _LEVELS, words) or text


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


def named(line: Row, words: Words) -> str:
    """Return factor and level as one name: "lot LOT-0417"; a level that says its factor stands alone.

    Of a level of many parts the first are named; `level` tells them all.
    """
    if line["factor"] in _BY_NAME:
        text = level(str(line["level"]), str(line["factor"]), words)
        return words.say("{factor} {level}", factor=factor(str(line["factor"]), words), level=text)
    parts = str(line["level"]).split("; ")
    text = level("; ".join(parts[:_MOST_PARTS]), str(line["factor"]), words)
    if len(parts) > _MOST_PARTS:
        text = words.say("{level} and {n} more", level=text, n=words.number(len(parts) - _MOST_PARTS))
    if line["factor"] == "coil_position":
        return words.say("{factor}: {level}", factor=factor(str(line["factor"]), words), level=text)
    return text


def times(line: Row, words: Words) -> str:
    """Return how many times the rate of what it is compared with, and the interval."""
    value = line["rate_ratio"]
    if pd.isna(value):
        return words.say("How many times is not known.")
    return words.say(
        "{times} times the rate of the rest, all else held still (95 % interval {low} to {high})",
        times=_times(value, words),
        low=_times(line["ratio_low"], words),
        high=_times(line["ratio_high"], words),
    )


def pieces(line: Row, words: Words) -> str:
    """Return the rejects it explains, "" where that is not said."""
    value = line["pieces_explained"]
    if pd.isna(value):
        return ""
    return words.say_n(
        round(value),
        "{n} reject explained ({low} to {high})",
        "{n} rejects explained ({low} to {high})",
        low=words.number(line["explained_low"]),
        high=words.number(line["explained_high"]),
    )


def chance(line: Row, words: Words) -> str:
    """Return the chance of a false alarm after everything that was looked at."""
    value = line["false_alarm"]
    if pd.isna(value):
        return ""
    if value < 0.0001:
        return words.say("chance of a false alarm under 1 in 10 000")
    if value > 0.5:
        return words.say("as likely as not by chance alone")
    return words.say("chance of a false alarm {chance}", chance=words.per_cent(value, 2 if value < 0.01 else 0))


def against(line: Row, bad: pd.DataFrame, compared: pd.DataFrame, words: Words) -> list[str]:
    """Return what speaks against a line that is given, each point a sentence; none is an empty list.

    `bad` and `compared`: the rows behind it, with coil_id, press_id, setup_id, inspected and rejected [pieces].
    """
    told = [*_tied(line, words), *_narrow(line, bad, compared, words)]
    found = int(bad["rejected"].sum())
    if found < FEW_REJECTS:
        told.append(words.say_n(found, "It rests on {n} reject.", "It rests on {n} rejects."))
    if line["ratio_low"] < LITTLE:
        told.append(words.say("It may be as little as {times} times.", times=_times(line["ratio_low"], words)))
    by_hand = _by_hand(bad, compared)
    if np.isfinite(by_hand) and abs(by_hand / line["rate_ratio"] - 1) > APART:
        text = "By hand the ratio is {times}: other things act on the same pieces, or the scatter is shared out."
        told.append(words.say(text, times=_times(by_hand, words)))
    return told


def _tied(line: Row, words: Words) -> list[str]:
    others = [name for name in str(line["tied_with"]).split("; ") if name]
    if not others:
        return []
    names = ", ".join(_named_text(name, words) for name in others)
    if line["verdict"] == "tied":
        return [
            words.say(
                "These data cannot tell it apart from this: {others}. Neither shows with the other held still.",
                others=names,
            )
        ]
    return [words.say("The very same pieces are also {others}: nothing here parts the two.", others=names)]


def _named_text(name: str, words: Words) -> str:
    kind, _, text = name.partition(": ")
    return named({"factor": kind, "level": text}, words)


def _narrow(line: Row, bad: pd.DataFrame, compared: pd.DataFrame, words: Words) -> list[str]:
    """Say where all bad pieces come from one coil, press or setting while the others come from several."""
    places: list[tuple[str, str, Callable[[str], str]]] = [
        ("coil_id", "coil", lambda name: words.say("All of it comes from one coil, {name}.", name=name)),
        ("press_id", "press", lambda name: words.say("All of it ran on press {name}.", name=name)),
        (
            "setup_id",
            "setup",
            lambda name: words.say("All of it ran in one setting, {name}.", name=level(name, "setup", words)),
        ),
    ]
    told = []
    for column, mine, tell in places:
        names = list(bad.loc[bad[column] != "", column].unique()) if column in bad else []
        others = compared.loc[compared[column] != "", column].nunique() if column in compared else 0
        if len(names) == 1 and others > 1 and mine != line["factor"]:
            told.append(tell(str(names[0])))
    return told


def by_hand(bad: pd.DataFrame, compared: pd.DataFrame, words: Words) -> str:
    """Return the two rates with their counts, and how many times one is the other."""
    ratio = _by_hand(bad, compared)
    sums = [int(rows[name].sum()) for rows in (bad, compared) for name in ("rejected", "inspected")]
    if not (sums[1] and sums[3]):
        return words.say("Nothing is left to compare with.")
    rates = [sums[0] / sums[1], sums[2] / sums[3]]
    told = words.say(
        "By hand: {bad} of {bad_all} are {bad_rate}, the rest {rest} of {rest_all} are {rest_rate}.",
        bad=words.number(sums[0]),
        bad_all=words.number(sums[1]),
        bad_rate=words.per_cent(rates[0], 3),
        rest=words.number(sums[2]),
        rest_all=words.number(sums[3]),
        rest_rate=words.per_cent(rates[1], 3),
    )
    if not np.isfinite(ratio):
        return told
    return f"{told} {words.say('One is {times} times the other.', times=_times(ratio, words))}"


def _by_hand(bad: pd.DataFrame, compared: pd.DataFrame) -> float:
    sums = [float(rows[name].sum()) for rows in (bad, compared) for name in ("rejected", "inspected")]
    if not (sums[1] and sums[2] and sums[3]):
        return np.nan
    return (sums[0] / sums[1]) / (sums[2] / sums[3])


def open_first(stations: pd.DataFrame, words: Words) -> str:
    """Return which stations to open first, "" where none can make the cause.

    `stations`: station, operation, look (1 = first, 0 = not at all).
    """
    asked = stations[stations["look"] > 0].sort_values("look")
    if asked.empty:
        return ""
    names = [
        words.say(
            "station {number} ({operation})",
            number=row["station"],
            operation=", ".join(words.say(name.strip()) for name in str(row["operation"]).split(";")),
        )
        for row in asked.to_dict("records")
    ]
    if len(names) == 1:
        return words.say("Open first: {first}.", first=names[0])
    return words.say("Open first: {first}; then {rest}.", first=names[0], rest=", ".join(names[1:]))


def next_test(line: Row, words: Words) -> str:
    """Return what to run next, in the language where the sentence is known."""
    text = str(line["next_test"])
    body, safety = (text.removesuffix(_SAFETY), True) if text.endswith(_SAFETY) else (text, False)
    told = _test(body, words) or body
    return f"{told} {words.say(_SAFETY.strip())}" if safety else told


def _test(text: str, words: Words) -> str:
    for pattern in _AMOUNTS:
        found = _match(pattern, text)
        if found:
            test = _translated(found["test"], _TESTS, words) or found["test"]
            return words.say(pattern, **{**_numbers(found, words), "test": test})
    return _translated(text, _TESTS, words)


def _translated(text: str, patterns: Sequence[str], words: Words) -> str:
    """Return a text built like one of the patterns in the language, "" for one that is like none."""
    for pattern in patterns:
        found = _match(pattern, text)
        if found is not None:
            return words.say(pattern, **_numbers(found, words))
    return ""


def _match(pattern: str, text: str) -> dict[str, str] | None:
    parts = re.split(r"\{(\w+)\}", pattern)
    gap = {name: _HOLD.get(name, ".+?") for name in parts[1::2]}
    built = "".join(re.escape(part) if at % 2 == 0 else f"(?P<{part}>{gap[part]})" for at, part in enumerate(parts))
    found = re.fullmatch(built, text)
    return found.groupdict() if found else None


def _numbers(gaps: Mapping[str, str], words: Words) -> dict[str, str]:
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


def _times(value: float, words: Words) -> str:
    return words.number(value, 1 if value >= 1.05 or value < 0.95 else 2)
