"""A line of the verdict in words a toolmaker would use: what, how much, how sure, what speaks against it, what next.

Sentences are built here once, for screens and papers, from the figures of a line and the rows behind it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
import pandas as pd

from monitor.reckoning.attribution.suspects import Suspect
from monitor.verdict.names import named, setting
from shared.factors import Setting
from shared.words import Words

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
VERDICTS: Final = {
    "acts": "Acts",
    "tied": "Tied",
    "clear": "Clear",
    "not_enough": "Not enough yet",
    "": "No rejects",
}


def verdict(code: str, words: Words) -> str:
    """Return the verdict of a line in a word or two; the code "" is that of no line."""
    return words.say(VERDICTS.get(code, code))


def times(line: Suspect, words: Words) -> str:
    """Return how many times the rate of what it is compared with, and the interval."""
    value = line.rate_ratio
    if pd.isna(value):
        return words.say("How many times is not known.")
    return words.say(
        "{times} times the rate of the rest, all else held still (95 % interval {low} to {high})",
        times=_times(value, words),
        low=_times(line.ratio_low, words),
        high=_times(line.ratio_high, words),
    )


def pieces(line: Suspect, words: Words) -> str:
    """Return the rejects it explains, "" where that is not said."""
    value = line.pieces_explained
    if pd.isna(value):
        return ""
    return words.say_n(
        round(value),
        "{n} reject explained ({low} to {high})",
        "{n} rejects explained ({low} to {high})",
        low=words.number(line.explained_low),
        high=words.number(line.explained_high),
    )


def chance(line: Suspect, words: Words) -> str:
    """Return the chance of a false alarm after everything that was looked at."""
    value = line.false_alarm
    if pd.isna(value):
        return ""
    if value < 0.0001:
        return words.say("chance of a false alarm under 1 in 10 000")
    if value > 0.5:
        return words.say("as likely as not by chance alone")
    return words.say("chance of a false alarm {chance}", chance=words.per_cent(value, 2 if value < 0.01 else 0))


def against(line: Suspect, bad: pd.DataFrame, compared: pd.DataFrame, words: Words) -> list[str]:
    """Return what speaks against a line that is given, each point a sentence; none is an empty list.

    `bad` and `compared`: the rows behind it, with coil_id, press_id, setup_id, inspected and rejected [pieces].
    """
    told = [*_tied(line, words), *_narrow(line, bad, compared, words)]
    found = int(bad["rejected"].sum())
    if found < FEW_REJECTS:
        told.append(words.say_n(found, "It rests on {n} reject.", "It rests on {n} rejects."))
    if line.ratio_low < LITTLE:
        told.append(words.say("It may be as little as {times} times.", times=_times(line.ratio_low, words)))
    by_hand = _by_hand(bad, compared)
    if np.isfinite(by_hand) and abs(by_hand / line.rate_ratio - 1) > APART:
        text = "By hand the ratio is {times}: other things act on the same pieces, or the scatter is shared out."
        told.append(words.say(text, times=_times(by_hand, words)))
    return told


def _tied(line: Suspect, words: Words) -> list[str]:
    if not line.tied_with:
        return []
    names = ", ".join(named(other, words) for other in line.tied_with)
    if line.verdict == "tied":
        return [
            words.say(
                "These data cannot tell it apart from this: {others}. Neither shows with the other held still.",
                others=names,
            )
        ]
    return [words.say("The very same pieces are also {others}: nothing here parts the two.", others=names)]


def _narrow(line: Suspect, bad: pd.DataFrame, compared: pd.DataFrame, words: Words) -> list[str]:
    """Say where all bad pieces come from one coil, press or setting while the others come from several."""
    places: list[tuple[str, str, Callable[[str | Setting], str]]] = [
        ("coil_id", "coil", lambda name: words.say("All of it comes from one coil, {name}.", name=name)),
        ("press_id", "press", lambda name: words.say("All of it ran on press {name}.", name=name)),
        (
            "setup_id",
            "setup",
            lambda name: words.say("All of it ran in one setting, {name}.", name=setting(name, words)),
        ),
    ]
    told = []
    for column, mine, tell in places:
        names = list(bad.loc[bad[column] != "", column].unique()) if column in bad else []
        others = compared.loc[compared[column] != "", column].nunique() if column in compared else 0
        if len(names) == 1 and others > 1 and mine != line.explanation.factor:
            told.append(tell(names[0]))
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

    `stations`: station, operation (a tuple), look (1 = first, 0 = not at all).
    """
    asked = stations[stations["look"] > 0].sort_values("look")
    if asked.empty:
        return ""
    names = [
        words.say(
            "station {number} ({operation})",
            number=row["station"],
            operation=", ".join(map(words.say, row["operation"])),
        )
        for row in asked.to_dict("records")
    ]
    if len(names) == 1:
        return words.say("Open first: {first}.", first=names[0])
    return words.say("Open first: {first}; then {rest}.", first=names[0], rest=", ".join(names[1:]))


def _times(value: float, words: Words) -> str:
    return words.number(value, 1 if value >= 1.05 or value < 0.95 else 2)
