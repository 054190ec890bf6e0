"""The difference of a coil and its end, worked by hand."""

from __future__ import annotations

import math

import pytest

from monitor.reckoning.pieces.difference import (
    INPUTS,
    CoilAccount,
    chances,
    coil_end,
    explained_kg,
    judge,
    scale_error_kg,
)


def account(used_kg: float, left_kg: float | None = 200.0, **more: object) -> CoilAccount:
    plain = {"width_mm": 100.0, "thickness_mm": 1.0, "pitch_mm": 30.0, "count": 10_000}
    return CoilAccount(1000.0, left_kg, used_kg, **{**plain, **more})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("load_kg", "interval_kg", "error_kg"),
    [(400, 1, 1.0), (500, 1, 1.0), (501, 1, 2.0), (2_500, 1, 3.0), (2_500, 5, 5.0), (20_000, 1, 3.0)],
)
def test_a_class_iii_scale_in_use_may_be_out_by_twice_its_limit(
    load_kg: float, interval_kg: float, error_kg: float
) -> None:
    assert scale_error_kg(load_kg, interval_kg) == error_kg


def test_two_weighings_and_thickness_add_as_squares() -> None:
    # 1000 kg may be out by 2 kg and 200 kg by 1 kg; 1 % of thickness on 800 kg of strip is 8 kg.
    assert explained_kg(account(800, thickness_tolerance_mm=0.01)) == pytest.approx(math.sqrt(2**2 + 1**2 + 8**2))


def test_what_scales_explain_is_no_finding() -> None:
    found = judge(account(798))
    assert found is not None
    assert (found.difference_kg, found.flagged, found.likeliest) == (2, False, "")


def test_a_thickness_entered_a_tenth_too_small_is_named_with_the_value_it_needs() -> None:
    # 0.9 mm entered for 1.0 mm: 720 kg reckoned for 800 kg used.
    found = judge(account(720, thickness_mm=0.9, thickness_tolerance_mm=0.05, width_tolerance_mm=0.3))
    assert found is not None
    assert found.flagged
    assert (found.likeliest, found.value) == ("thickness_mm", pytest.approx(1.0))


def test_a_logger_that_slept_makes_the_count_the_likeliest() -> None:
    found = judge(account(720, count=9_000, count_doubt=500))
    assert found is not None
    assert (found.likeliest, found.value) == ("count", 10_000)


def test_a_count_with_no_doubt_in_it_leaves_width_before_count_and_pitch() -> None:
    found = judge(account(780, width_tolerance_mm=2.0, thickness_tolerance_mm=0.001))
    assert found is not None
    assert (found.likeliest, found.value) == ("width_mm", pytest.approx(100 * 800 / 780))


def test_more_strip_used_than_the_coil_ever_weighed_has_its_sign() -> None:
    found = judge(account(900))
    assert found is not None
    assert found.difference_kg == -100
    assert found.value < getattr(account(900), found.likeliest)


def test_without_a_weighed_end_there_is_nothing_to_judge() -> None:
    assert judge(account(700, left_kg=None)) is None
    assert judge(account(0)) is None


def test_the_end_of_a_coil_in_pieces_and_minutes() -> None:
    # 24 kg at 0.24 kg/m are 100 m, 3333 progressions of 30 mm; at 50 strokes a minute 66.7 min.
    end = coil_end(24, 0.24, 30, 2, 50)
    assert end is not None
    assert (end.progressions, end.pieces) == (3333, 6666)
    assert end.minutes == end.minutes_low == end.minutes_high == pytest.approx(3333.33 / 50, abs=0.01)


def test_the_interval_widens_with_the_weight_and_the_rate() -> None:
    end = coil_end(24, 0.24, 30, 1, 50, left_doubt_kg=2.4, spm_range=(40, 60))
    assert end is not None
    assert end.minutes_low == pytest.approx(3000 / 60)
    assert end.minutes_high == pytest.approx(3666.67 / 40, abs=0.01)


@pytest.mark.parametrize(
    ("left_kg", "kg_per_m", "spm"), [(math.nan, 0.24, 50), (24, math.nan, 50), (24, 0.24, 0), (-1, 0.24, 50)]
)
def test_what_is_not_known_gives_no_forecast(left_kg: float, kg_per_m: float, spm: float) -> None:
    assert coil_end(left_kg, kg_per_m, 30, 1, spm) is None


def test_the_chance_of_an_input_by_hand() -> None:
    # Off by 10 %: thickness usually 5 %, width 1 %, pitch and count 0.2 %, each by s / (s^2 + 0.1^2).
    found = chances(account(720), 1.1)
    weights = {name: s / (s * s + 0.01) for name, s in zip(INPUTS, (0.01, 0.05, 0.002, 0.002), strict=True)}
    assert found == pytest.approx({name: w / sum(weights.values()) for name, w in weights.items()})
    assert sum(found.values()) == pytest.approx(1)


def test_what_the_input_would_need_is_as_sure_as_the_scales() -> None:
    found = judge(account(720))
    assert found is not None
    # 1000 kg may be out by 2 kg and 200 kg by 1 kg.
    assert found.high - found.value == pytest.approx(math.sqrt(5) / 720)
    assert found.value - found.low == pytest.approx(math.sqrt(5) / 720)


def test_an_input_that_the_die_wants_otherwise_is_the_likelier_wrong() -> None:
    # 800 kg used, 430 reckoned: the die runs strip of 100 mm, 54 were entered; thickness would have to be near double.
    entered = {"width_mm": 54.0, "thickness_tolerance_mm": 0.02, "width_tolerance_mm": 0.5}
    plain, told = (judge(account(430, **entered, **more)) for more in ({}, {"expected": {"width_mm": 100.0}}))  # type: ignore[arg-type]
    assert plain is not None
    assert told is not None
    assert plain.likeliest == "thickness_mm"
    assert told.likeliest == "width_mm"
    assert told.chance > 0.9
    assert told.low < 100.5 < told.high
