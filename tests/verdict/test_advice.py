"""What to run next, in the figure table and in the language of whoever looks."""

from __future__ import annotations

from typing import get_args

import pytest

from monitor.reckoning.attribution.advice import Advice, AdviceCode, confirm, more, part, ruled_out
from monitor.verdict.advice import ADVICE, SAFETY, next_test, table_advice
from shared.factors import Explanation, Level, Setting
from shared.words import ENGLISH, LANGUAGES, topics, words
from tests.figures.bench_given import curve, named

WORN = curve("wear", Level("sharpening_from", number=200_000))


def test_every_code_has_its_sentence_in_every_language() -> None:
    assert set(ADVICE) == set(get_args(AdviceCode))
    for language in set(LANGUAGES) - {"en"}:
        known = {text for entries in topics(language).values() for text in entries}
        assert {*ADVICE.values(), SAFETY} <= known


@pytest.mark.parametrize(
    ("advice", "told"),
    [
        (confirm("lot", named("lot", "L; 1"), 0.0017, 0.0063),
         "Run another lot in the same die state and then L; 1 again: "
         "about 3000 pieces on either side tell 0.17% from 0.63%."),
        (confirm("coil", named("lot", "C-1"), 0.0017, 0.0017),
         "Run another coil of the same lot in the same die state and then this one again: the more pieces the better."),
        (part(named("heat", "H1"), curve("drift", Level("time_since", number=18_627)), 0.0135, 0.3),
         "Run heat H1 without drift since 2020-12-31, or the other way round: "
         "about 22 pieces on either side tell 1.35% from 30.00%."),
        (part(WORN, named("lot", "L1"), 0.1, 0.1),
         f"Run lot L1 on a sharp die, or another lot on the dull one: the more pieces the better. {SAFETY}"),
        (more(0.001, 3.0),
         "Inspect about 7900 more pieces in each level to see a rate 3 times the usual."),
        (more(0.0, 3.0), "Inspect more pieces: there are too few rejects to tell anything."),
        (ruled_out(1.44), "Nothing to run: a level at 1.4 times the rate would have shown."),
    ],
)  # fmt: skip
def test_the_table_says_it_in_plain_english(advice: Advice, told: str) -> None:
    assert table_advice(advice) == told


def test_a_screen_writes_its_numbers_and_keeps_the_caution() -> None:
    told = next_test(confirm("wear", WORN, 0.0011, 0.0052), ENGLISH)
    assert "about 3\u202f000 pieces" in told
    assert "tell 0.11\u202f% from 0.52\u202f%" in told
    assert told.endswith(SAFETY)


@pytest.mark.parametrize("language", ["de", "es"])
@pytest.mark.parametrize(
    "other",
    [
        named("press", "P1"),
        WORN,
        curve("speed", Level("value_under", "speed", number=14.83)),
        curve("drift", Level("time_before", number=20_486)),
        curve("setup", Level("is", Setting("P1", "2026-03-30T10:50"))),
        curve("coil_position", Level("coil_last", number=40)),
        curve("cert", Level("value_high", "thickness_own")),
        curve("lot", Level("coil_of_lot", "C-12", "L4")),
        curve("shift", Level("all_but", "Late")),
    ],
    ids=lambda other: other.factor,
)
def test_a_tie_is_told_in_one_language(other: Explanation, language: str) -> None:
    told = next_test(part(named("heat", "H1"), other, 0.01, 0.02), words(language))
    english = {"without", "press ", "lot ", "heat", "before", "last ", "speed", "high", "all but", "strokes", "coil"}
    assert not [word for word in english if word in told]


def test_a_lot_without_a_press_is_said_in_german() -> None:
    told = next_test(part(named("lot", "L"), named("press", "P1"), 0.1, 0.1), words("de"))
    assert told.startswith("Los L ohne Presse P1 fahren, oder umgekehrt")
