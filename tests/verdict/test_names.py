"""Factors, levels and certificate values: named in the language, numbers as it writes them, units as chosen."""

from __future__ import annotations

from typing import get_args

import pytest

from monitor.verdict import names as naming
from monitor.verdict.table import table_level
from shared.factors import Explanation, Level, LevelCode, Setting
from shared.units import INCH
from shared.words import ENGLISH, LANGUAGES, topics, words
from tests.figures.bench_given import curve, named

SETTING = Setting("P2", "2026-10-19T06:30")
MONDAY = 20_745


def one(factor: str, code: LevelCode, **values: object) -> Explanation:
    return Explanation(factor, (Level(code, **values),))  # type: ignore[arg-type]


def test_every_code_has_its_words_in_every_language() -> None:
    assert set(naming.LEVELS) == set(get_args(LevelCode))
    for language in set(LANGUAGES) - {"en"}:
        known = {text for entries in topics(language).values() for text in entries}
        assert set(naming.LEVELS.values()) - {"{name}"} <= known


def test_a_level_of_many_parts_is_named_by_those_that_have_room() -> None:
    first = Level("sharpening_first", number=39_684)
    worn = curve("wear", Level("sharpening_rising"), first, first, first)
    assert naming.named(worn, ENGLISH) == "rising with strokes since sharpening and 3 more"
    ends = curve("coil_position", Level("coil_first", number=80), Level("coil_ends", number=40), first)
    assert naming.named(ends, ENGLISH).endswith("first 80\u202fm; first and last 40\u202fm and 1 more")
    assert naming.named(named("lot", "A; B; C; D"), ENGLISH) == "lot A; B; C; D"


@pytest.mark.parametrize(
    ("explanation", "table", "shown"),
    [
        (one("lot", "all_but", name="LOT-1"), "all but LOT-1", "all but LOT-1"),
        (one("lot", "coil_of_lot", name="C-5", lot="L; 1"), "L; 1 coil C-5", "L; 1 coil C-5"),
        (one("wear", "sharpening_from", number=120_000, stations=(1, 3)),
         "from 120000 strokes since sharpening, stations 1, 3",
         "from 120\u202f000 strokes since sharpening, stations 1, 3"),
        (one("wear", "sharpening_falling", stations=(3,)),
         "falling with strokes since sharpening, station 3", "falling with strokes since sharpening, station 3"),
        (curve("coil_position", Level("coil_first", number=80), Level("coil_ends", number=40)),
         "first 80 m; first and last 40 m", "first 80\u202fm; first and last 40\u202fm"),
        (named("lot", "LOT {0} %s from 1200; x"), "LOT {0} %s from 1200; x", "LOT {0} %s from 1200; x"),
        (named("lot", "day 20000"), "day 20000", "day 20000"),
        (one("cert", "value_high", name="thickness_own"), "thickness_own high", "thickness (own test) high"),
        (one("cert", "value_from", name="yield_mpa", number=231.5), "yield_mpa from 231.5",
         "yield strength, MPa from 231.5"),
        (one("cert", "value_under", name="grain;size", number=120_000.0), "grain;size under 1.2e+05",
         "grain;size under 120\u202f000"),
        (one("setup", "all_but", name=SETTING), "all but P2 set 2026-10-19T06:30", "all but P2 set Mon 19 Oct 06:30"),
        (one("drift", "time_since", number=MONDAY), "since 2026-10-19", "since Mon 19 Oct"),
    ],
)  # fmt: skip
def test_levels_keep_their_names_and_write_their_numbers(explanation: Explanation, table: str, shown: str) -> None:
    assert table_level(explanation) == table
    assert naming.level(explanation, ENGLISH) == shown


@pytest.mark.parametrize(
    ("explanation", "told"),
    [
        (curve("coil_position", Level("coil_first", number=80), Level("coil_ends", number=40)),
         "first 262\u202fft; first and last 131\u202fft"),
        (one("cert", "value_under", name="thickness_own", number=1.496), "thickness (own test) under 0.0589"),
        (one("cert", "value_from", name="thickness_mm", number=0.8), "thickness, in from 0.0315"),
        (one("cert", "value_from", name="yield_mpa", number=231.5), "yield strength, ksi from 33.6"),
        (one("cert", "value_from", name="hardness_hv", number=110.0), "hardness, HV from 110"),
        (one("speed", "value_under", name="speed", number=77.01), "speed under 77.01"),
        (one("wear", "sharpening_first", number=80), "first 80 strokes since sharpening"),
    ],
)  # fmt: skip
def test_lengths_and_values_are_told_in_inch_units_where_they_are_spoken(explanation: Explanation, told: str) -> None:
    assert naming.level(explanation, words("en", INCH)) == told


@pytest.mark.parametrize(
    ("explanation", "told"),
    [
        (one("coil_position", "coil_ends", number=40), "erste und letzte 40\u202fm"),
        (one("setup", "setting_from", number=12_000), "ab 12\u202f000 Hüben seit dem Rüsten"),
        (one("setup", "setting_rising"), "steigt mit den Hüben seit dem Rüsten"),
        (one("lot", "all_but", name="LOT-1"), "alles außer LOT-1"),
        (one("lot", "coil_of_lot", name="C-5", lot="L1"), "L1 Coil C-5"),
        (one("speed", "value_under", name="speed", number=14.83), "Hubzahl unter 14,83"),
        (one("setup", "is", name=SETTING), "P2 gerüstet Mo., 19. Okt. 06:30"),
    ],
)
def test_levels_are_told_in_german_with_its_decimal_sign(explanation: Explanation, told: str) -> None:
    assert naming.level(explanation, words("de")) == told
