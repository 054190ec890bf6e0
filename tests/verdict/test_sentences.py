"""A line of the verdict in words."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pandas as pd

from monitor.reckoning.attribution.advice import Advice
from monitor.reckoning.attribution.suspects import Suspect
from monitor.verdict import names as naming
from monitor.verdict import sentences as telling
from shared.factors import Level, Setting
from shared.words import ENGLISH
from tests.figures.bench_given import curve, named


def line(**other: Any) -> Suspect:
    """The line of a bad lot that was one heat."""
    usual = Suspect(
        die_id="D1",
        cause="CRK",
        explanation=named("lot", "LOT-0417"),
        rate_ratio=3.7012,
        ratio_low=3.007,
        ratio_high=4.5557,
        pieces_explained=673.2,
        explained_low=615.7,
        explained_high=719.9,
        false_alarm=3.7e-8,
        verdict="acts",
        tied_with=(named("heat", "H-2207"),),
        stations=(),
        inspected=147_000,
        rejected=923,
        next_test=Advice("too_few_rejects"),
    )
    return replace(usual, **other)


LINE = line()


def rows(rejected: int, inspected: int, coils: int = 3, presses: int = 2, settings: int = 2) -> pd.DataFrame:
    size = 6
    return pd.DataFrame(
        {
            "coil_id": [f"C{n % coils}" for n in range(size)],
            "press_id": [f"P{n % presses}" for n in range(size)],
            "setup_id": [Setting("P1", f"2026-10-2{n % settings}T06:30") for n in range(size)],
            "inspected": inspected / size,
            "rejected": rejected / size,
        }
    )


def test_a_line_says_what_how_many_times_how_much_and_how_sure() -> None:
    assert naming.named(LINE.explanation, ENGLISH) == "lot LOT-0417"
    assert telling.times(LINE, ENGLISH).startswith("3.7 times the rate of the rest")
    assert "3.0 to 4.6" in telling.times(LINE, ENGLISH)
    assert telling.pieces(LINE, ENGLISH) == "673 rejects explained (616 to 720)"
    assert telling.chance(LINE, ENGLISH) == "chance of a false alarm under 1 in 10 000"
    assert telling.chance(line(false_alarm=0.031), ENGLISH) == "chance of a false alarm 3\u202f%"
    assert telling.chance(line(false_alarm=1.0), ENGLISH) == "as likely as not by chance alone"


def test_what_is_not_known_is_not_said_as_a_number() -> None:
    silent = line(rate_ratio=math.nan, pieces_explained=math.nan, false_alarm=math.nan)
    assert telling.times(silent, ENGLISH) == "How many times is not known."
    assert telling.pieces(silent, ENGLISH) == telling.chance(silent, ENGLISH) == ""


def test_the_two_rates_by_hand_are_those_of_the_rows() -> None:
    told = telling.by_hand(rows(60, 6000), rows(12, 12000), ENGLISH)
    assert "60 of 6\u202f000 are 1.000\u202f%" in told
    assert "12 of 12\u202f000 are 0.100\u202f%" in told
    assert "One is 10.0 times the other." in told
    assert "times the other" not in telling.by_hand(rows(60, 6000), rows(0, 12000), ENGLISH)
    assert telling.by_hand(rows(60, 6000), rows(0, 0), ENGLISH) == "Nothing is left to compare with."


def test_a_sound_line_has_only_its_other_name_against_it() -> None:
    told = telling.against(LINE, rows(923, 147_000), rows(795, 469_000), ENGLISH)
    assert told == ["The very same pieces are also heat H-2207: nothing here parts the two."]
    assert telling.against(line(tied_with=()), rows(923, 147_000), rows(795, 469_000), ENGLISH) == []


def test_one_coil_one_press_one_setting_few_rejects_and_a_small_ratio_speak_against_it() -> None:
    weak = line(ratio_low=1.04, tied_with=(), rate_ratio=2.0)
    told = telling.against(weak, rows(6, 1000, 1, 1, 1), rows(30, 10_000), ENGLISH)
    assert told == [
        "All of it comes from one coil, C0.",
        "All of it ran on press P0.",
        "All of it ran in one setting, P1 set Tue 20 Oct 06:30.",
        "It rests on 6 rejects.",
        "It may be as little as 1.04 times.",
    ]
    # A line on a press is not told that it ran on that press.
    on_press = replace(weak, explanation=named("press", "P0"))
    told = telling.against(on_press, rows(6, 1000, 1, 1, 1), rows(30, 10_000), ENGLISH)
    assert not any("press P0" in one for one in told)


def test_a_tie_names_the_other_side_and_rates_by_hand_that_differ_are_said() -> None:
    worn = curve("wear", Level("sharpening_from", number=200_000))
    told = telling.against(line(verdict="tied", tied_with=(worn,)), rows(60, 1000), rows(30, 10_000), ENGLISH)
    assert "from 200\u202f000 strokes since sharpening" in told[0]
    assert told[-1].startswith("By hand the ratio is 20.0")


def test_stations_are_named_in_the_order_of_opening() -> None:
    stations = pd.DataFrame(
        {"station": [1, 2, 3], "operation": [("pierce",), ("bend",), ("form", "bend")], "look": [0, 2, 1]}
    )
    assert telling.open_first(stations, ENGLISH) == "Open first: station 3 (form, bend); then station 2 (bend)."
    assert telling.open_first(stations.assign(look=[0, 1, 0]), ENGLISH) == "Open first: station 2 (bend)."
    assert telling.open_first(stations.assign(look=0), ENGLISH) == ""
    assert "locked out" in telling.CAUTION
