"""Factors, levels and certificate values: named in the language, numbers as it writes them, units as chosen."""

from __future__ import annotations

import pytest

from monitor.verdict import names as naming
from shared.units import INCH
from shared.words import ENGLISH, words


def test_a_level_of_many_parts_is_named_by_those_that_have_room() -> None:
    line = {
        "factor": "wear",
        "level": "rising with strokes since sharpening; first 39684 strokes since sharpening; x; y",
    }
    assert naming.named(line, ENGLISH) == "rising with strokes since sharpening and 3 more"
    ends = {"factor": "coil_position", "level": "first 80 m; first and last 40 m; x"}
    assert naming.named(ends, ENGLISH).endswith("first 80\u202fm; first and last 40\u202fm and 1 more")
    lot = {"factor": "lot", "level": "A; B; C; D"}
    assert naming.named(lot, ENGLISH) == "lot A; B; C; D"


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("lot", "all but LOT-1", "all but LOT-1"),
        ("wear", "from 120000 strokes since sharpening, stations 1, 3",
         "from 120\u202f000 strokes since sharpening, stations 1, 3"),
        ("coil_position", "first 80 m; first and last 40 m", "first 80\u202fm; first and last 40\u202fm"),
        ("lot", "LOT {0} %s from 1200; x", "LOT {0} %s from 1200; x"),
        ("cert", "thickness_own high", "thickness (own test) high"),
        ("cert", "yield_mpa from 231.5", "yield strength, MPa from 231.5"),
        ("setup", "all but P2 set 2026-10-19T06:30", "all but P2 set Mon 19 Oct 06:30"),
        ("drift", "since 2026-10-19", "since Mon 19 Oct"),
    ],
)  # fmt: skip
def test_levels_keep_their_names_and_write_their_numbers(name: str, text: str, told: str) -> None:
    assert naming.level(text, name, ENGLISH) == told


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("coil_position", "first 80 m; first and last 40 m", "first 262\u202fft; first and last 131\u202fft"),
        ("cert", "thickness_own under 1.496", "thickness (own test) under 0.0589"),
        ("cert", "thickness_mm from 0.8", "thickness, in from 0.0315"),
        ("cert", "yield_mpa from 231.5", "yield strength, ksi from 33.6"),
        ("cert", "hardness_hv from 110", "hardness, HV from 110"),
        ("speed", "speed under 77.01", "speed under 77.01"),
        ("wear", "first 80 strokes since sharpening", "first 80 strokes since sharpening"),
    ],
)
def test_lengths_and_values_are_told_in_inch_units_where_they_are_spoken(name: str, text: str, told: str) -> None:
    assert naming.level(text, name, words("en", INCH)) == told
