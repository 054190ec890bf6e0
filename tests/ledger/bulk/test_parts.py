"""How many parts a press-day keeps and how often a row is written."""

from __future__ import annotations

import pytest

from monitor.ledger.bulk.parts import BulkPart, to_merge


def part(part_id: int, rows: int) -> BulkPart:
    return BulkPart(
        part_id,
        "strokes",
        file="parts/a.parquet",
        row_group=0,
        press_id="P01",
        day="2026-11-02",
        rows=rows,
        min_us=0,
        max_us=1,
    )


@pytest.mark.parametrize(
    ("stored", "new", "merged"),
    [
        ([], 5, []),
        ([1, 1], 1, []),
        ([1, 1, 1], 1, [1, 1, 1]),
        ([80_000, 1, 1, 1], 1, [1, 1, 1]),
        ([80_000, 80_000, 80_000], 1, []),
        ([80_000, 80_000, 80_000], 80_000, [80_000, 80_000, 80_000]),
        ([1, 1, 1, 4, 4, 4], 1, [1, 1, 1, 4, 4, 4]),
        ([1, 1, 4, 4, 4], 1, []),
    ],
)
def test_parts_of_like_size_are_merged(stored: list[int], new: int, merged: list[int]) -> None:
    assert [one.rows for one in to_merge([part(n, rows) for n, rows in enumerate(stored)], new)] == merged


def test_a_day_of_small_loads_keeps_few_parts_and_copies_each_row_a_few_times() -> None:
    stored: list[int] = []
    written = most = 0
    for _ in range(1_440):
        merged = to_merge([part(n, rows) for n, rows in enumerate(stored)], 60)
        for one in merged:
            stored.remove(one.rows)
        stored.append(60 + sum(one.rows for one in merged))
        written += stored[-1]
        most = max(most, len(stored))
    assert sum(stored) == 1_440 * 60
    assert most <= 18
    assert written / sum(stored) <= 7
