"""Settling readings group by group gives what settling them by whole arrays gives."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from monitor.ledger.bulk.readings import MISSING, StoredReadings, in_order
from monitor.ledger.merge.deliveries import Deliveries
from monitor.ledger.merge.settle import Identity, Settled, Terms, settle


class Files(Deliveries):
    """Load 1 is of a file that stands before that of load 2; loads may be given as corrections."""

    def __init__(self, given_at: int = 0) -> None:
        self.corrected = given_at > 0
        self._loads = {1: ("a", "a.csv", 0), 2: ("b", "b.csv", given_at)}


def terms(burst: int, given_at: int = 0) -> Terms:
    return Terms("P01", burst, Files(given_at))


ROWS = st.lists(st.tuples(st.integers(0, 6), st.integers(0, 5), st.sampled_from([MISSING, 7, 8])), max_size=12)


def readings(rows: list[tuple[int, int, int]], load_id: int) -> StoredReadings:
    size = len(rows)
    columns = np.array(rows, dtype=np.int64).reshape(size, 3).T
    feeds = np.full(size, MISSING)
    return in_order(
        StoredReadings(
            columns[0],
            columns[1],
            feeds=feeds,
            recorded_at=columns[2],
            load_id=np.full(size, load_id),
            line=np.arange(size, dtype=np.int64),
        )
    )


def plainly(stored: StoredReadings, new: StoredReadings, burst: int) -> tuple[set[tuple[int, int]], int]:
    """Readings that hold afterwards, worked out one time at a time, where none was recorded later than another."""
    held: dict[int, set[int]] = {}
    for time, counter in zip(stored.time.tolist(), stored.counter.tolist(), strict=True):
        held.setdefault(time, set()).add(counter)
    lost: set[tuple[int, int]] = set()
    order = sorted(zip(new.time.tolist(), new.line.tolist(), new.counter.tolist(), strict=True))
    for time, _, counter in order:
        beside = held.setdefault(time, set())
        if counter in beside:
            continue
        if all(abs(counter - other) <= burst for other in beside):
            beside.add(counter)
        else:
            lost.add((time, counter))  # What says the same as one set aside repeats it.
    return {(time, counter) for time, counters in held.items() for counter in counters}, len(lost)


def never(_from_us: int, _to_us: int) -> frozenset[Identity]:
    return frozenset()


def pairs(held: StoredReadings) -> list[tuple[int, int]]:
    return list(zip(held.time.tolist(), held.counter.tolist(), strict=True))


def standing(stored: StoredReadings, settled: Settled) -> set[tuple[int, int]]:
    kept = [pair for place, pair in enumerate(pairs(stored)) if place not in settled.replaced]
    return {*kept, *pairs(settled.accepted)}


@given(first=ROWS, second=ROWS, burst=st.integers(0, 3))
def test_whole_arrays_and_one_by_one_agree(
    first: list[tuple[int, int, int]], second: list[tuple[int, int, int]], burst: int
) -> None:
    one = readings([(time, counter, MISSING) for time, counter, _ in first], 1)
    none = one.at(slice(0, 0))
    stored = settle(none, one, terms(burst), never).accepted
    new = readings([(time, counter, MISSING) for time, counter, _ in second], 2)
    settled = settle(stored, new, terms(burst), never)
    expected, conflicts = plainly(stored, new, burst)
    assert standing(stored, settled) == expected
    assert len(settled.conflicts) == conflicts
    assert pairs(settled.accepted) == sorted(pairs(settled.accepted))


@given(first=ROWS, second=ROWS, burst=st.integers(0, 3), correct=st.booleans())
def test_every_new_row_is_counted_once_and_the_latest_stand(
    first: list[tuple[int, int, int]], second: list[tuple[int, int, int]], burst: int, correct: bool
) -> None:
    one = readings(first, 1)
    stored = settle(one.at(slice(0, 0)), one, terms(burst), never).accepted
    new = readings(second, 2)
    settled = settle(stored, new, terms(burst, 7 if correct else 0), never)
    added = len(new.time) - settled.repeated - settled.corrected - len(settled.conflicts)
    assert added >= 0
    held = standing(stored, settled)
    for time in {time for time, _ in held}:
        counters = [counter for at, counter in held if at == time]
        assert max(counters) - min(counters) <= burst
    again = settle(in_order(_after(stored, settled)), settled.accepted, terms(burst), never)
    assert again.accepted.time.size == 0
    assert again.repeated == settled.accepted.time.size


def _after(stored: StoredReadings, settled: Settled) -> StoredReadings:
    keep = np.ones(len(stored.time), np.bool_)
    keep[settled.replaced] = False
    return StoredReadings.joined([stored.at(keep), settled.accepted])
