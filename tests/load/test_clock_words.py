"""What was found of clocks, told in the language of whoever looks."""

from __future__ import annotations

from dataclasses import replace

import pytest

from monitor.load.clock_words import clock_lines
from monitor.load.counter_clocks import Clock, FileJump
from monitor.reckoning.clocks.offset import Lag
from shared.calendar import Calendar
from shared.plant import Plant
from shared.words import words

CALENDAR = Calendar(Plant(timezone="Europe/Berlin"))
LAG = Lag(
    -185_000_000,
    -210_000_000,
    high_us=-160_000_000,
    notes=14,
    since_us=1_793_600_000_000_000,
    until_us=1_794_600_000_000_000,
)
JUMP = FileJump("strokes-<b>.csv", 1204, 1_793_600_000_000_000, 1_793_599_820_000_000, -180_000_000)


def test_an_offset_and_a_jump_are_told_with_what_to_do() -> None:
    lag, jump = clock_lines({"P03": Clock(0, (LAG,), (JUMP,))}, CALENDAR, words("en"))
    assert lag.startswith(
        "The clock of P03's counter seems 3 min 5 s behind the noted changes (2:40 to 3:30, from 14 notes, "
    )
    assert "write clock_offset_s = -185 under [time]" in lag
    assert "jumps 3 min back at line 1\u202f204 of strokes-<b>.csv, from " in jump


@pytest.mark.parametrize(("language", "word"), [("de", "geht gegenüber"), ("es", "parece ir")])
def test_they_are_told_in_a_language(language: str, word: str) -> None:
    ahead = replace(LAG, offset_us=185_000_000)
    told = clock_lines({"P03": Clock(0, (LAG, ahead), (JUMP,))}, CALENDAR, words(language))
    assert word in told[0]
    assert len(told) == 3
    assert "{" not in "".join(told)
    assert " the " not in "".join(told)
