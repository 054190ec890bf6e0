import pandas as pd
import pytest

from monitor.charts.waterfall import waterfall_chart


def losses(received, good, skeleton, difference):
    rows = [("received", received), ("good", good), ("skeleton", skeleton), ("difference", difference)]
    return pd.DataFrame([(part, part, kg) for part, kg in rows], columns=["part", "label", "kg"])


def spans(figure):
    bar = figure.data[0]
    return [tuple(sorted((base, base + kg))) for base, kg in zip(bar.base, bar.x, strict=True)]


def test_each_part_begins_where_the_one_before_ended_and_the_last_ends_at_nothing():
    assert spans(waterfall_chart(losses(100.0, 60.0, 35.0, 5.0))) == [(0, 100), (40, 100), (5, 40), (0, 5)]


def test_a_negative_difference_lies_on_the_other_side_of_nothing():
    figure = waterfall_chart(losses(100.0, 70.0, 35.0, -5.0))
    assert spans(figure)[-1] == (-5, 0)
    assert figure.layout.xaxis.range[0] < -5


def test_every_part_is_named_with_its_weight_and_share():
    figure = waterfall_chart(losses(2000.0, 1200.0, 700.0, 100.0))
    texts = [annotation.text for annotation in figure.layout.annotations]
    assert ["1\u202f200.0 kg, 60.0\u202f%" in texts[1], "100.0 kg, 5.0\u202f%" in texts[3]] == [True, True]
    assert figure.layout.xaxis.title.text == "kg"


@pytest.mark.parametrize("frame", [losses(0.0, 0.0, 0.0, 0.0), losses(1.0, 1.0, 0.0, 0.0).iloc[:0]])
def test_nothing_received_says_so(frame):
    assert "No coil" in waterfall_chart(frame).layout.annotations[0].text
