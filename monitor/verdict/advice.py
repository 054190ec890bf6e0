"""What to run next, in a sentence."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from monitor.reckoning.attribution.advice import Advice, AdviceCode, Contrast
from monitor.verdict.names import factor, level, level_text, named
from monitor.verdict.writers import TableWriter, ValueWriter, WordsWriter
from shared.factors import BY_NAME, Explanation
from shared.words import Words

#: Said wherever a sentence sends a person to the die.
SAFETY: Final = "Stop, isolate and lock out, and block the slide before anyone looks into the die."

ADVICE: Mapping[AdviceCode, str] = MappingProxyType(
    {
        "another_lot": "Run another lot in the same die state and then {level} again",
        "another_coil": "Run another coil of the same lot in the same die state and then this one again",
        "another_heat": "Run another heat in the same die state and then {level} again",
        "another_supplier": "Run a coil of another supplier in the same die state and then {level} again",
        "both_ends_of_value": "Run coils from both ends of the certificate value in the same die state",
        "that_stretch": "Check pieces from that stretch of the next coils and as many from the middle",
        "around_sharpening": "Check pieces just before the next sharpening and as many after it, on one lot",
        "another_press": "Run the same coil on another press and on this one",
        "both_shifts": "Check the same coil and die state in both shifts",
        "set_again": "Set the die again on the same coil and compare before and after",
        "first_after_setting": "Check the first pieces after the next settings and as many from later in the run",
        "both_speeds": "Run the same coil at both speeds",
        "change_one_back": "Note what changed at that time, change one thing back and compare before and after",
        "sharp_die": "Run lot {level} on a sharp die, or another lot on the dull one",
        "one_without_other": "Run {one} without {other}, or the other way round",
        "too_few_rejects": "Inspect more pieces: there are too few rejects to tell anything.",
        "more_pieces": "Inspect about {n} more pieces in each level to see a rate {times} times the usual.",
        "nothing": "Nothing to run: a level at {times} times the rate would have shown.",
    }
)
_CONTRAST: Final = "{test}: about {n} pieces on either side tell {usual} from {bad}."
_UNCOUNTED: Final = "{test}: the more pieces the better."

#: Digits that the times of an advice are told with.
_DIGITS: Final = {"more_pieces": 0, "nothing": 1}


def next_test(advice: Advice, words: Words) -> str:
    """Return what to run next in the language and units."""
    called = [_called(one, words) for one in advice.about]
    return _text(advice, called, WordsWriter(words))


def table_advice(advice: Advice) -> str:
    """Return what to run next as the figure table says it."""
    to = TableWriter()
    return _text(advice, [f"{one.factor} {level_text(one.levels, to)}" for one in advice.about], to)


def _text(advice: Advice, called: list[str], to: ValueWriter) -> str:
    """Return the sentence; `called` is what the explanations it is about are called."""
    told = to.say(ADVICE[advice.code], **_values(advice, called, to))
    if advice.contrast is not None:
        told = _contrasted(told, advice.contrast, to)
    return f"{told} {to.say(SAFETY)}" if advice.lock_out else told


def _contrasted(test: str, told: Contrast, to: ValueWriter) -> str:
    if told.pieces is None:
        return to.say(_UNCOUNTED, test=test)
    shares = {"usual": to.share(told.usual), "bad": to.share(told.bad)}
    return to.say(_CONTRAST, test=test, n=to.number(told.pieces), **shares)


def _values(advice: Advice, called: list[str], to: ValueWriter) -> dict[str, str]:
    values = dict(zip(("one", "other"), called, strict=False))
    if advice.about:
        values["level"] = level_text(advice.about[0].levels, to)
    if advice.pieces is not None:
        values["n"] = to.number(advice.pieces)
    if advice.times is not None:
        values["times"] = to.number(advice.times, _DIGITS[advice.code])
    return values


def _called(explanation: Explanation, words: Words) -> str:
    """Return an explanation as it stands inside a sentence: "lot LOT-0417", "time (before Mon 2 Feb)"."""
    told = named(explanation, words)
    if explanation.factor in BY_NAME:
        return told
    return words.say("{factor} ({level})", factor=factor(explanation.factor, words), level=level(explanation, words))
