"""Facts of many presses read at once: what was asked for, each fact once, and never more than twice as much read."""

from __future__ import annotations

import random

import pandas as pd
import pytest

from monitor.figures.genealogy.press_spans import Span, batches, facts_in, joined_spans
from monitor.ledger import Snapshot

HOUR = 3_600_000_000


class Book(Snapshot):
    """A fact each half hour of each press; counts how many were read."""

    def __init__(self, presses: list[str], hours: int) -> None:
        self.read = 0
        self.rows = pd.DataFrame(
            [(press, half * HOUR // 2) for press in presses for half in range(2 * hours)],
            columns=["press_id", "from_us"],
        )

    def facts(self, kind: str, *, where: tuple[str, object], made_us: Span | None = None) -> pd.DataFrame:  # type: ignore[override]
        column, values = where
        found = self.rows[self.rows[column].isin(list(values))]  # type: ignore[call-overload]
        if made_us:
            found = found[found["from_us"].between(made_us[0], made_us[1] - 1)]
        self.read += len(found)
        return found.reset_index(drop=True)


@pytest.mark.parametrize("seed", range(20))
def test_every_fact_asked_for_is_found_once_and_few_others_are_read(seed: int) -> None:
    dice = random.Random(seed)
    hours = 24 * 60
    asked = {}
    for press in ("A", "B", "C", "D"):
        begins = [dice.randrange(hours) for _ in range(dice.randrange(1, 7))]
        lasting = [dice.choice((2, 8, 30, 400)) for _ in begins]
        asked[press] = joined_spans((b * HOUR, (b + n) * HOUR) for b, n in zip(begins, lasting, strict=True))
    book = Book([*asked, "E"], hours)
    rows = book.rows
    wanted = [
        (press, us)
        for press, us in zip(rows["press_id"], rows["from_us"], strict=True)
        if any(begin <= us < end for begin, end in asked.get(press, ()))
    ]
    found = facts_in(book, "pieces", asked)
    assert sorted(zip(found["press_id"], found["from_us"], strict=True)) == sorted(wanted)
    assert book.read <= 2 * sum(2 * (end - begin) // HOUR for spans in asked.values() for begin, end in spans)


def test_presses_that_worked_the_same_shifts_are_read_together() -> None:
    shifts = [(day * 24 * HOUR, (day * 24 + 8) * HOUR) for day in range(5)]
    assert len(batches({f"P{number}": shifts for number in range(12)})) == 5


def test_nothing_asked_for_is_nothing_found() -> None:
    assert facts_in(Book(["A"], 10), "pieces", {}).empty
