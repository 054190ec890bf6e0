import pandas as pd

from monitor.charts.rates import MOST_CAUSES, rates_chart


def causes(rows):
    columns = ["label", "estimate", "rejected", "inspected", "rate", "rate_low", "rate_high"]
    return pd.DataFrame(rows, columns=columns)


TWO = causes([("BUR burr", False, 12, 8000, 0.0015, 0.0009, 0.0026), ("CRK crack", True, 1, 40, 0.025, 0.004, 0.129)])


def test_counts_and_samples_have_dots_of_their_own():
    dots = [trace for trace in rates_chart(TWO).data if trace.mode == "markers"]
    assert [list(dot.x) for dot in dots] == [[0.0015], [0.025]]
    assert dots[0].marker.color != dots[1].marker.color
    assert "estimate" in dots[1].name


def test_interval_and_count_stand_with_every_rate():
    figure = rates_chart(TWO)
    line = next(trace for trace in figure.data if trace.mode == "lines")
    assert list(line.x) == [0.004, 0.129, None, 0.0009, 0.0026, None]
    assert "2.50\u202f% · 1 of 40" in figure.layout.annotations[0].text
    assert "12 of 8\u202f000" in figure.layout.annotations[1].text
    assert figure.layout.xaxis.range[1] > 0.129


def test_rate_without_a_denominator_is_left_to_the_table():
    unknown = causes([("BUR burr", False, 3, 0, None, None, None)]).astype({"rate": float})
    assert "No inspection" in rates_chart(unknown).layout.annotations[0].text


def test_the_most_frequent_causes_are_drawn_first():
    rows = [(f"C{n:02d}", False, n, 1000, n / 1000, n / 2000, n / 500) for n in range(1, MOST_CAUSES + 4)]
    dots = next(trace for trace in rates_chart(causes(rows)).data if trace.mode == "markers")
    assert len(dots.x) == MOST_CAUSES
    assert dots.x[0] == (MOST_CAUSES + 3) / 1000
