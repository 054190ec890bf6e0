import pandas as pd

from monitor.charts.pareto import MOST_REASONS, pareto_chart
from monitor.charts.style import LIGHT


def reasons(rows):
    return pd.DataFrame(rows, columns=["reason", "kind", "count", "minutes"])


def labels(figure):
    return [annotation.text for annotation in figure.layout.annotations]


def test_longest_reason_stands_first_with_minutes_and_count():
    figure = pareto_chart(reasons([("coil change", "setup", 3, 41.6), ("no reason yet", "", 12, 1200.4)]))
    assert list(figure.data[0].x) == [1200.4, 41.6]
    assert "no reason yet" in labels(figure)[0]
    assert "1\u202f200 min · 12×" in labels(figure)[0]
    assert "42 min · 3×" in labels(figure)[1]


def test_kind_shows_by_colour_and_pattern_and_the_missing_reason_is_outlined():
    bar = pareto_chart(reasons([("no reason yet", "", 1, 9.0), ("punch", "tooling", 1, 5.0)])).data[0]
    assert list(bar.marker.color) == [LIGHT.kinds["none"], LIGHT.kinds["tooling"]]
    assert list(bar.marker.pattern.shape) == ["", "\\"]
    assert list(bar.marker.line.width) == [1.5, 0]


def test_the_rest_is_one_bar_so_that_no_minute_is_lost():
    rows = [(f"reason {n:02d}", "press", 2, float(100 - n)) for n in range(MOST_REASONS + 5)]
    figure = pareto_chart(reasons(rows))
    assert len(figure.data[0].x) == MOST_REASONS
    assert sum(figure.data[0].x) == sum(row[3] for row in rows)
    assert "6 other reasons" in labels(figure)[-1]
    assert "12×" in labels(figure)[-1]


def test_markup_in_a_reason_is_text():
    figure = pareto_chart(reasons([("<b>x</b>", "press", 1, 1.0)]))
    assert labels(figure)[0].startswith("&lt;b&gt;x&lt;/b&gt;")
    assert figure.data[0].customdata[0].startswith("&lt;b&gt;")


def test_no_stop_says_so():
    assert "did not stand" in labels(pareto_chart(reasons([])))[0]
