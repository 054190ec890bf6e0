"""Dots of yield with their intervals."""

import pandas as pd

from monitor.charts.yields import MOST, yields_chart
from shared.words import words


def rows(n=3):
    return pd.DataFrame(
        {
            "name": [f"<b>L{i}</b>" for i in range(n)],
            "coils": 2,
            "of_possible": [0.99 - i / 1000 for i in range(n)],
            "of_possible_low": [0.98, *[float("nan")] * (n - 1)][:n],
            "of_possible_high": [1.0, *[float("nan")] * (n - 1)][:n],
        }
    )


def test_the_worst_is_on_top_and_one_mounting_has_no_line():
    dots = yields_chart(rows()).data[0]
    assert list(dots.customdata) == ["&lt;b&gt;L2&lt;/b&gt;", "&lt;b&gt;L1&lt;/b&gt;", "&lt;b&gt;L0&lt;/b&gt;"]
    assert [round(value, 6) for value in dots.error_x.array] == [0, 0, 1]


def test_four_hundred_lots_are_the_worst_few():
    assert len(yields_chart(rows(400)).data[0].x) == MOST


def test_numbers_are_written_in_the_language():
    labels = [note.text for note in yields_chart(rows(), words=words("de")).layout.annotations]
    assert any("98,80" in label for label in labels)


def test_nothing_used_says_so():
    (note,) = yields_chart(rows(0)).layout.annotations
    assert note.text == "No strip was used and weighed."
