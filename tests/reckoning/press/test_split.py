"""Whole strokes split at boundaries."""

from __future__ import annotations

import numpy as np
from hypothesis import given as for_all
from hypothesis import strategies as st

from monitor.reckoning.press.counters import Ints
from monitor.reckoning.press.split import before_cuts, largest_remainder


def ints(*values: int) -> Ints:
    """An array."""
    return np.array(values, dtype=np.int64)


def test_10_over_1_1_1_is_4_3_3_since_ties_go_to_the_earlier() -> None:
    assert largest_remainder(10, ints(1, 1, 1)).tolist() == [4, 3, 3]


def test_10_over_6_3_2_has_quotas_5_45_and_2_73_and_1_82() -> None:
    # Whole parts 5, 2, 1; the two left over go to the remainders 0.82 and 0.73.
    assert largest_remainder(10, ints(6, 3, 2)).tolist() == [5, 3, 2]


def test_nothing_to_share_and_weights_of_nothing() -> None:
    assert largest_remainder(0, ints(3, 1)).tolist() == [0, 0]
    assert largest_remainder(5, ints(0, 3)).tolist() == [0, 5]


def test_weights_that_are_all_zero_share_evenly() -> None:
    assert largest_remainder(3, ints(0, 0)).tolist() == [2, 1]


def test_microsecond_weights_do_not_overflow() -> None:
    day_us = 86_400_000_000
    assert largest_remainder(2_000_000_000, ints(day_us, day_us)).tolist() == [1_000_000_000, 1_000_000_000]


@for_all(st.integers(0, 10_000), st.lists(st.integers(0, 1000), min_size=1, max_size=20).filter(any))
def test_shares_sum_to_the_total_and_differ_from_their_quota_by_less_than_one(total: int, weights: list[int]) -> None:
    shares = largest_remainder(total, ints(*weights)).tolist()
    assert sum(shares) == total
    for share, weight in zip(shares, weights, strict=True):
        assert abs(share * sum(weights) - total * weight) < sum(weights)


def test_cut_at_a_third_of_an_interval_takes_a_third_of_its_strokes() -> None:
    # Intervals (0, 30] with 9 strokes and (30, 60] with 6.
    found = before_cuts(ints(0, 10, 30, 45, 60), ints(0, 30), ints(30, 60), ints(9, 6))
    assert found.tolist() == [0, 3, 9, 12, 15]


def test_cuts_outside_the_span_take_nothing_and_all() -> None:
    assert before_cuts(ints(-5, 99), ints(0), ints(30), ints(9)).tolist() == [0, 9]


def test_without_intervals_nothing_lies_before_any_cut() -> None:
    assert before_cuts(ints(0, 5), ints(), ints(), ints()).tolist() == [0, 0]


def test_strokes_between_readings_of_one_moment_are_in_the_span() -> None:
    # (0, 10] with 5, then one more stroke at 10 itself; and the same at the beginning of a span.
    assert before_cuts(ints(0, 10), ints(0, 10), ints(10, 10), ints(5, 1)).tolist() == [0, 6]
    assert before_cuts(ints(10, 20), ints(10, 10), ints(10, 20), ints(1, 5)).tolist() == [0, 6]
    assert before_cuts(ints(0, 10, 20), ints(0, 10, 10), ints(10, 10, 20), ints(5, 1, 4)).tolist() == [0, 6, 10]


@st.composite
def spans(draw: st.DrawFn) -> tuple[Ints, Ints, Ints, Ints]:
    """Contiguous intervals with counts, and cuts from the beginning of the span to its end."""
    lengths = draw(st.lists(st.integers(0, 40), min_size=1, max_size=12).filter(any))
    counts = draw(st.lists(st.integers(0, 30), min_size=len(lengths), max_size=len(lengths)))
    edges = np.concatenate(([0], np.cumsum(lengths)))
    inner = draw(st.sets(st.integers(0, int(edges[-1])), max_size=10))
    return ints(*sorted({0, int(edges[-1]), *inner})), edges[:-1], edges[1:], ints(*counts)


@for_all(spans())
def test_every_partition_adds_up_to_the_counter(span: tuple[Ints, Ints, Ints, Ints]) -> None:
    cuts, starts, ends, counts = span
    shares = np.diff(before_cuts(cuts, starts, ends, counts))
    assert shares.min() >= 0
    assert shares.sum() == counts.sum()
