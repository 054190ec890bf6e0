import numpy as np
import pandas as pd

from monitor.charts.wear import wear_chart

BINS = pd.DataFrame(
    {
        "strokes_from": [0, 3000, 20_000],
        "strokes_to": [3000, 20_000, 40_000],
        "inspected": [500, 0, 2000],
        "rejected": [1, 0, 20],
        "rate": [0.002, np.nan, 0.01],
        "rate_low": [0.0004, np.nan, 0.0065],
        "rate_high": [0.011, np.nan, 0.0154],
    }
)


def test_bins_with_pieces_are_steps_within_their_band():
    low, high, steps = wear_chart(BINS).data
    assert list(steps.x) == [0, 3000, 20_000, 40_000]
    assert list(steps.y) == [0.002, 0.002, 0.01, 0.01]
    assert list(high.y) == [0.011, 0.011, 0.0154, 0.0154]
    assert high.fill == "tonexty"
    assert list(low.y)[:2] == [0.0004, 0.0004]
    assert "20 of 2" in steps.customdata[-1]


def test_bounds_stand_across_with_their_names():
    figure = wear_chart(BINS, [("asked for <b>", 30_000.0, "dash"), ("now", 12_000.0, "solid")])
    asked, now = figure.data[3:]
    assert (asked.name, asked.line.dash, list(asked.x)) == ("asked for &lt;b&gt;", "dash", [30_000.0, 30_000.0])
    assert now.line.dash == "solid"


def test_no_sharpening_is_said():
    assert "No sharpening" in wear_chart(BINS[:0]).layout.annotations[0].text
